"""The share of new parts that meet the requirement, for a censored outcome."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Protocol

import numpy as np

from workbench.errors import Unavailable
from workbench.fit.faces import ShareDraws
from workbench.fit.requirement_on_scale import requirement_on_scale
from workbench.fit.share_basis import Surfaced, share_basis
from workbench.fit.share_process import Yardstick
from workbench.fit.shares import spots, wanting
from workbench.fit.surface_draws import surface_draws
from workbench.numerics.censored_posterior import censored_draws
from workbench.numerics.link_shares import locations
from workbench.numerics.location_scale import NORMAL, share_below
from workbench.numerics.posterior import stream, tails

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.outcomes import Measured
    from workbench.define.settings import Settings
    from workbench.fit.requirement_on_scale import LimitsOnScale
    from workbench.fit.share_basis import ShareBasis
    from workbench.numerics.censored_profile import CensoredProblem
    from workbench.numerics.posterior import Process, Spots

RECENT = 24


class CensoredSurface(Surfaced, Protocol):
    """What shares need of a censored fit: its outcome, and its readings with their maximum."""

    def __hash__(self) -> int:
        """Return the identity of the fit, by which its draws are kept."""

    @property
    def outcome(self) -> Measured:
        """The outcome that was fitted."""

    @property
    def problem(self) -> CensoredProblem:
        """Columns, readings and their maximum-likelihood fit."""


def censored_share_draws(
    fit: CensoredSurface, settings: Settings, *, n_draws: int, seed: int, model_form: float
) -> ShareDraws | Unavailable:
    """Return draws (n_draws, n) of the share of new parts below and above the requirement.

    A draw is one process that the readings leave possible: coefficients and scale from the
    posterior (`numerics.censored_posterior`), plus a curve that the model form leaves out. In
    it a new part has the family's distribution about the location at its settings, which
    scatter about what was set.
    """
    limits = requirement_on_scale(fit.outcome)
    lacking = wanting(fit)
    if isinstance(limits, Unavailable):
        return limits
    if lacking is not None:
        return lacking
    drawn = _drawn(fit, n_draws=n_draws, seed=seed, kappa=model_form)
    where = spots(drawn.basis, settings, drawn.process)
    below, above = _tails(fit, drawn, (where, limits))
    turned = (above, below) if limits.turned else (below, above)
    return ShareDraws(too_low=turned[0], too_high=turned[1])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Drawn:
    basis: ShareBasis
    yardstick: Yardstick
    process: Process


@lru_cache(maxsize=RECENT)
def _drawn(fit: CensoredSurface, *, n_draws: int, seed: int, kappa: float) -> _Drawn:
    basis = share_basis(fit)
    solution = fit.problem.solution
    yardstick = Yardstick(
        shift=float(solution.estimates[0]), unit=solution.sigma, variance=solution.sigma**2
    )
    rng = stream(seed, fit.outcome.name)
    drawn = censored_draws(fit.problem, rng, n_draws=n_draws)
    centred = drawn.coefficients.copy()
    centred[:, 0] -= yardstick.shift
    process = surface_draws(
        basis,
        centred / yardstick.unit,
        rng,
        kappa=kappa,
        variance=(drawn.sigma / yardstick.unit) ** 2,
    )
    return _Drawn(basis=basis, yardstick=yardstick, process=process)


def _tails(
    fit: CensoredSurface, drawn: _Drawn, asked: tuple[Spots, LimitsOnScale]
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    where, limits = asked
    low, high = drawn.yardstick.measured(limits.low), drawn.yardstick.measured(limits.high)
    if fit.problem.family == NORMAL:
        found = tails(drawn.process, where, low=low, high=high)
        return found.below, found.above
    return _leaning_tails(fit.problem.family, (drawn.process, where), (low, high))


def _leaning_tails(
    family: str, drawn: tuple[Process, Spots], ends: tuple[float, float]
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Return the tails of a family that is not closed under the scatter of settings."""
    process, where = drawn
    found = locations(process, where)
    sigma = np.sqrt(process.part_variance.astype(np.float64))[:, None]

    def below(location: NDArray[np.float64]) -> NDArray[np.float64]:
        return share_below((ends[0] - location) / sigma, family)

    def above(location: NDArray[np.float64]) -> NDArray[np.float64]:
        return 1 - share_below((ends[1] - location) / sigma, family)

    nothing = np.zeros(found.mean.shape, dtype=np.float32)
    return (
        found.averaged(below) if ends[0] > -np.inf else nothing,
        found.averaged(above) if ends[1] < np.inf else nothing.copy(),
    )
