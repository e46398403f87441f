"""The share of new parts whose count meets the requirement."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Protocol

import numpy as np

from workbench.errors import Unavailable
from workbench.fit.faces import ShareDraws
from workbench.fit.share_basis import Surfaced, share_basis
from workbench.fit.shares import spots, wanting
from workbench.fit.surface_draws import surface_draws
from workbench.numerics.count_posterior import count_draws
from workbench.numerics.link_shares import locations
from workbench.numerics.overdispersed import share_up_to
from workbench.numerics.posterior import stream

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.outcomes import Counted
    from workbench.define.settings import Settings
    from workbench.fit.counted_rows import WithinRuns
    from workbench.fit.share_basis import ShareBasis
    from workbench.numerics.count_tests import CountProblem
    from workbench.numerics.posterior import Process

RECENT = 24
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


def counted_share_draws(
    fit: CountedSurface, settings: Settings, *, n_draws: int, seed: int, model_form: float
) -> ShareDraws | Unavailable:
    """Return draws (n_draws, n) of the share of new parts with too few and with too many.

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
    drawn = _drawn(fit, n_draws=n_draws, seed=seed, kappa=model_form)
    found = locations(drawn.process, spots(drawn.basis, settings, drawn.process))
    nothing = np.zeros(found.mean.shape, dtype=np.float32)
    low, high = requirement.low, requirement.high
    below = nothing if low is None else found.averaged(_up_to(fit, drawn, (settings, low, -1)))
    above = nothing.copy()
    if high is not None:
        above = 1 - found.averaged(_up_to(fit, drawn, (settings, high, 0)))
    return ShareDraws(too_low=below, too_high=np.maximum(above, 0))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CountProcess:
    """Processes drawn for a fit: surface, columns, and the spread of a new part (n_draws, 1)."""

    basis: ShareBasis
    process: Process
    spread: NDArray[np.float64]


@lru_cache(maxsize=RECENT)
def _drawn(fit: CountedSurface, *, n_draws: int, seed: int, kappa: float) -> CountProcess:
    basis = share_basis(fit)
    rng = stream(seed, fit.outcome.name)
    drawn = count_draws(fit.problem, rng, n_draws=n_draws)
    more = part_spreads(fit.within, rng, (n_draws, fit.outcome.out_of))
    process = surface_draws(
        basis, drawn.coefficients, rng, kappa=kappa, variance=np.zeros(n_draws)
    )
    return CountProcess(basis=basis, process=process, spread=(drawn.spread + more)[:, None])


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


def _up_to(fit: CountedSurface, drawn: CountProcess, asked: tuple[Settings, float, int]) -> _Curve:
    settings, limit, step = asked
    most = np.floor(limit + 1e-9) if step == 0 else np.ceil(limit - 1e-9) - 1
    return _Curve(
        most=float(most),
        shift=fit.exposure_shift(settings),
        spread=drawn.spread,
        trials=fit.outcome.out_of,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Curve:
    """The share of parts with a count of `most` or less, by location on the link."""

    most: float
    shift: NDArray[np.float64]
    spread: NDArray[np.float64]
    trials: int | None

    def __call__(self, location: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the share (n_draws, n)."""
        level = np.clip(location + self.shift, -HIGHEST, HIGHEST)
        mean = np.exp(level) if self.trials is None else self.trials / (1 + np.exp(-level))
        return share_up_to(self.most, mean, self.spread, trials=self.trials)
