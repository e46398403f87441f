"""Draws of the share of new parts that fail, all outcomes together, at any settings."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import DecisionError, Unavailable
from workbench.numerics.boxes import counts, packed
from workbench.numerics.share_bounds import near_groups

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from workbench.define.settings import Settings
    from workbench.fit.faces import Fit, Foreseen, ShareDraws
    from workbench.numerics.posterior import Some

MODEL_FORM = 0.3  # kappa: kept the promise for a right and a mildly wrong model in simulation
PROBED = 8  # draws that show whether there is an answer at all
ELEMENTS = 1 << 21  # draws × points worked on at once: a few arrays of 8 MB
NEAR, GROUPS = 96, 64  # most points in a group, fewest groups that points are put in
FEWEST = 8  # points in a group
SLACK = np.float32(1e-4)  # a bound this close to what may fail is no bound: rounding of float32


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """What is promised: at least `share` of new parts, with `confidence`.

    A draw is bad if more than 1 − share fails; `budget` of n draws may be.
    """

    share: float
    confidence: float

    def budget(self, n_draws: int) -> int:
        """Return how many of n_draws may be bad."""
        return int(np.floor((1 - self.confidence) * n_draws + 1e-9))


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """The processes that the runs leave possible: the same ones wherever they are looked at.

    They are the first `n_draws` of `drawn` (of n_draws, if that is 0).
    """

    fits: tuple[Fit, ...]
    n_draws: int
    seed: int
    model_form: float
    ask: Ask
    drawn: int = 0

    @property
    def budget(self) -> int:
        """Return how many draws may be bad."""
        return self.ask.budget(self.n_draws)

    def of_size(self, n_draws: int, purpose: int) -> Sample:
        """Return other draws of the same processes, their stream named by `purpose`.

        A smaller sample is the first draws of this one: they are in no order, and drawing is what
        costs most.
        """
        if n_draws <= self.n_draws:
            return replace(self, n_draws=n_draws, drawn=self.drawn or self.n_draws)
        state = np.random.SeedSequence([self.seed, purpose]).generate_state(1)
        return replace(self, n_draws=n_draws, seed=int(state[0]), drawn=0)

    def by_side(self, settings: Settings) -> tuple[ShareDraws, ...]:
        """Return the shares outside each limit (n_draws, n), one outcome each."""
        return tuple(one.shares(slice(self.n_draws)) for one in self.foreseen(settings))

    def failing(self, settings: Settings) -> NDArray[np.float32]:
        """Return the sum of all shares outside a limit (n_draws, n).

        One minus this is the lower bound of the joint share whatever the correlation of the
        outcomes on a part (Fréchet 1951, Annales de l'Université de Lyon A 14, 53-77).
        """
        return _sum(self.foreseen(settings), slice(self.n_draws), slice(None))

    def foreseen(self, settings: Settings) -> tuple[Foreseen, ...]:
        """Return new parts at settings (n, k), one outcome each, in all of `drawn`."""
        return tuple(self._foreseen(fit, settings) for fit in self.fits)

    def _foreseen(self, fit: Fit, settings: Settings) -> Foreseen:
        seen = fit.foreseen(
            settings,
            n_draws=self.drawn or self.n_draws,
            seed=self.seed,
            model_form=self.model_form,
        )
        if isinstance(seen, Unavailable):
            raise DecisionError(
                f"{fit.outcome.name} tells no share of good parts: {seen.reason}.",
                why="A decision needs the share of new parts that meet each requirement.",
                next_step="Mend that, or leave the outcome out of the decision.",
            )
        return seen


def _sum(seen: Sequence[Foreseen], draws: Some, points: Some) -> NDArray[np.float32]:
    total = seen[0].failing(draws, points)
    for one in seen[1:]:
        total += one.failing(draws, points)
    return total


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Judged:
    """Points judged: worst failing share of each draw (n_draws,), and two numbers a point (n,).

    `bits` (n, words) are the bad draws at each point. `assured` is the share met
    with the confidence asked, `chance` the share averaged over what is not known.
    """

    worst: NDArray[np.float32]
    assured: NDArray[np.float64]
    chance: NDArray[np.float64]
    bits: NDArray[np.uint64]


def lacking(fits: Sequence[Fit], settings: Settings) -> Unavailable | None:
    """Return why some fit tells no share at settings (n, k), or None if all do."""
    said = []
    for fit in fits:
        seen = fit.foreseen(settings.rows(np.array([0])), n_draws=PROBED, seed=0, model_form=0.0)
        if isinstance(seen, Unavailable):
            said.append(f"{fit.outcome.name}: {seen.reason}")
    return Unavailable(reason="; ".join(said)) if said else None


def failed_bits(sample: Sample, settings: Settings) -> NDArray[np.uint64]:
    """Return the bad draws at each point as bit sets (n, words).

    Shares are computed only where a bound over a group of near points leaves it open whether a
    draw is bad there; the bits are those of computing them all.
    """
    n, limit = len(settings), np.float32(1 - sample.ask.share)
    none = packed(np.zeros((sample.n_draws, 1), dtype=bool))
    found = np.repeat(none, n, axis=0)
    groups = near_groups(settings.values, min(max(n // GROUPS, FEWEST), NEAR))
    seen = sample.foreseen(settings.rows(groups.order))
    bound = np.zeros((sample.n_draws, groups.starts.size), dtype=np.float32)
    for one in seen:
        bound += one.worst(slice(sample.n_draws), groups.starts)
    open_ = ~(bound <= limit - SLACK)
    for g, places in enumerate(groups.slices()):
        draws = np.flatnonzero(open_[:, g])
        if draws.size:
            fails = np.zeros((sample.n_draws, places.stop - places.start), dtype=bool)
            fails[draws] = _sum(seen, draws, places) > limit
            found[groups.order[places]] = packed(fails)
    return found


def bad_counts(sample: Sample, settings: Settings) -> NDArray[np.int64]:
    """Return the number of bad draws at each point (n,)."""
    return counts(failed_bits(sample, settings))


def judge(sample: Sample, settings: Settings) -> Judged:
    """Return how the points (n,) fare."""
    rank = sample.n_draws - 1 - sample.budget
    worst = np.zeros(sample.n_draws, dtype=np.float32)
    assured: list[NDArray[np.float64]] = []
    chance: list[NDArray[np.float64]] = []
    bits: list[NDArray[np.uint64]] = []
    for fails in _chunks(sample, settings):
        np.maximum(worst, fails.max(axis=1), out=worst)
        by_point = np.ascontiguousarray(fails.T)
        bits.append(packed(fails > np.float32(1 - sample.ask.share)))
        met = 1 - np.minimum(fails, 1).mean(axis=0, dtype=np.float64)
        chance.append(met)
        by_point.partition(rank, axis=1)
        assured.append(1 - np.minimum(by_point[:, rank], 1).astype(float))
    return Judged(
        worst=worst,
        assured=np.concatenate(assured),
        chance=np.concatenate(chance),
        bits=np.concatenate(bits),
    )


def assured_share(worst: NDArray[np.float32], ask: Ask) -> float:
    """Return the share that all but the allowed draws reach, from their worst failing shares."""
    rank = worst.size - 1 - ask.budget(worst.size)
    return 1 - min(float(np.partition(worst, rank)[rank]), 1.0)


def _chunks(sample: Sample, settings: Settings) -> Iterator[NDArray[np.float32]]:
    size = max(1, ELEMENTS // sample.n_draws)
    seen, draws = sample.foreseen(settings), slice(sample.n_draws)
    for start in range(0, len(settings), size):
        yield _sum(seen, draws, slice(start, start + size))
