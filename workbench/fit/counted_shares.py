"""The share of new parts whose count meets the requirement."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Protocol

import numpy as np

from workbench.errors import Unavailable
from workbench.fit.foreseen import CurvedParts
from workbench.fit.share_basis import Surfaced, share_basis
from workbench.fit.shares import wanting
from workbench.fit.surface_draws import surfaces
from workbench.numerics.count_posterior import count_draws
from workbench.numerics.overdispersed import share_up_to
from workbench.numerics.posterior import stream

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.outcomes import Counted
    from workbench.define.settings import Settings
    from workbench.fit.counted_rows import WithinRuns
    from workbench.fit.surface_draws import Surfaces
    from workbench.numerics.count_tests import CountProblem
    from workbench.numerics.posterior import Some

RECENT = 16
HIGHEST = 60.0  # log of a mean count, or of odds, beyond which nothing changes


class CountedSurface(Surfaced, Protocol):
    """What shares need of a fit of counts: its outcome, counts with their fit, and parts."""

    def __hash__(self) -> int:
        """Return the identity of the fit, by which its draws are kept."""

    @property
    def outcome(self) -> Counted:
        """The outcome that was fitted."""

    @property
    def problem(self) -> CountProblem:
        """Columns, counts and their fit."""

    @property
    def within(self) -> WithinRuns | None:
        """Scatter of parts within runs."""

    def exposure_shift(self, settings: Settings) -> NDArray[np.float64]:
        """Return the log exposure of a part at each point (n,)."""


def counted_foreseen(
    fit: CountedSurface, settings: Settings, *, n_draws: int, seed: int, model_form: float
) -> CurvedParts | Unavailable:
    """Return new parts at settings (n, k), in draws of the share with too few and with too many.

    A draw is one process that the counts leave possible (`numerics.count_posterior`), plus a
    curve that the model form leaves out; in it a new part has a negative-binomial count, or a
    beta-binomial one out of its places.
    """
    lacking = wanting(fit)
    requirement = fit.outcome.requirement
    if requirement is None:
        return Unavailable(
            reason=f"{fit.outcome.name} has no requirement; state at_least, at_most or between"
        )
    if lacking is not None:
        return lacking
    counts = _drawn(fit, n_draws=n_draws, seed=seed)
    drawn = counts.surfaces.bent(model_form)
    low, high = requirement.low, requirement.high
    shift = fit.exposure_shift(settings).astype(np.float32)
    of = (counts.spread, fit.outcome.out_of)
    return CurvedParts(
        process=drawn.process,
        spots=replace(drawn.spots(settings), shift=shift if shift.any() else None),
        falling=None if low is None else _UpTo(float(np.ceil(low - 1e-9)) - 1, *of),
        rising=None if high is None else _More(float(np.floor(high + 1e-9)), *of),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Counts:
    """Surfaces drawn for a fit of counts, and the spread of a new part (n_draws, 1)."""

    surfaces: Surfaces
    spread: NDArray[np.float64]


@lru_cache(maxsize=RECENT)
def _drawn(fit: CountedSurface, *, n_draws: int, seed: int) -> _Counts:
    rng = stream(seed, fit.outcome.name)
    drawn = count_draws(fit.problem, rng, n_draws=n_draws)
    more = part_spreads(fit.within, rng, (n_draws, fit.outcome.out_of))
    found = surfaces(share_basis(fit), drawn.coefficients, rng, variance=np.zeros(n_draws))
    return _Counts(surfaces=found, spread=(drawn.spread + more)[:, None])


def part_spreads(
    within: WithinRuns | None, rng: np.random.Generator, asked: tuple[int, int | None]
) -> NDArray[np.float64]:
    """Return draws (n_draws,) of what parts of a run add to the spread of a single part.

    Sums of m parts hold 1/m of it already. The Pearson ratio of parts within runs is drawn as a
    scaled inverse chi square; below chance it adds nothing.
    """
    n_draws, out_of = asked
    if within is None:
        return np.zeros(n_draws)
    ratio = within.ratio * within.df / rng.chisquare(within.df, n_draws)
    excess = np.maximum(ratio - 1, 0.0) * (1 - 1 / within.parts)
    if out_of is None:
        return np.asarray(excess / max(within.mean, 1e-9))
    together = np.clip(excess / max(out_of - 1, 1), 0.0, 0.99)
    return np.asarray(together / (1 - together))


@dataclass(frozen=True, slots=True, eq=False)
class _UpTo:
    """The share of parts with a count of `most` or less, by location on the link."""

    most: float
    spread: NDArray[np.float64]
    trials: int | None

    def __call__(self, location: NDArray[np.float32], draws: Some) -> NDArray[np.float32]:
        """Return the share (a, n)."""
        level = np.clip(location.astype(np.float64), -HIGHEST, HIGHEST)
        mean = np.exp(level) if self.trials is None else self.trials / (1 + np.exp(-level))
        found = share_up_to(self.most, mean, self.spread[draws], trials=self.trials)
        return np.asarray(found, dtype=np.float32)


@dataclass(frozen=True, slots=True, eq=False)
class _More:
    """The share of parts with a count of more than `most`."""

    most: float
    spread: NDArray[np.float64]
    trials: int | None

    def __call__(self, location: NDArray[np.float32], draws: Some) -> NDArray[np.float32]:
        """Return the share (a, n)."""
        within = _UpTo(self.most, self.spread, self.trials)(location, draws)
        return np.maximum(1 - within, np.float32(0))
