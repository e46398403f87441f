"""The share of new parts that meet the requirement, for a censored outcome."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Protocol

import numpy as np

from workbench.errors import Unavailable
from workbench.fit.foreseen import CurvedParts, NormalParts
from workbench.fit.requirement_on_scale import requirement_on_scale
from workbench.fit.share_basis import Surfaced, share_basis
from workbench.fit.share_process import Yardstick
from workbench.fit.shares import wanting
from workbench.fit.surface_draws import surfaces
from workbench.numerics.censored_posterior import censored_draws
from workbench.numerics.location_scale import NORMAL, share_below
from workbench.numerics.posterior import stream

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.outcomes import Measured
    from workbench.define.settings import Settings
    from workbench.fit.surface_draws import Surfaces
    from workbench.numerics.censored_profile import CensoredProblem
    from workbench.numerics.posterior import Some

RECENT = 16


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


def censored_foreseen(
    fit: CensoredSurface, settings: Settings, *, n_draws: int, seed: int, model_form: float
) -> NormalParts | CurvedParts | Unavailable:
    """Return new parts at settings (n, k), in draws of the share below and above the requirement.

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
    drawn = _drawn(fit, n_draws=n_draws, seed=seed).bent(model_form)
    unit = _yardstick(fit)
    low, high = unit.measured(limits.low), unit.measured(limits.high)
    process, where = drawn.process, drawn.spots(settings)
    if fit.problem.family == NORMAL:
        return NormalParts(process=process, spots=where, low=low, high=high, turned=limits.turned)
    sigma, family = np.sqrt(process.part_variance)[:, None], fit.problem.family
    return CurvedParts(
        process=process,
        spots=where,
        falling=_Below(low, sigma, family) if low > -np.inf else None,
        rising=_Above(high, sigma, family) if high < np.inf else None,
        turned=limits.turned,
    )


def _yardstick(fit: CensoredSurface) -> Yardstick:
    solution = fit.problem.solution
    return Yardstick(
        shift=float(solution.estimates[0]), unit=solution.sigma, variance=solution.sigma**2
    )


@lru_cache(maxsize=RECENT)
def _drawn(fit: CensoredSurface, *, n_draws: int, seed: int) -> Surfaces:
    basis, unit = share_basis(fit), _yardstick(fit)
    rng = stream(seed, fit.outcome.name)
    drawn = censored_draws(fit.problem, rng, n_draws=n_draws)
    centred = drawn.coefficients.copy()
    centred[:, 0] -= unit.shift
    return surfaces(basis, centred / unit.unit, rng, variance=(drawn.sigma / unit.unit) ** 2)


@dataclass(frozen=True, slots=True, eq=False)
class _Below:
    """The share of parts below a limit, by location, in a family that leans."""

    limit: float
    sigma: NDArray[np.float32]
    family: str

    def __call__(self, location: NDArray[np.float32], draws: Some) -> NDArray[np.float32]:
        """Return the share (a, n)."""
        z = np.asarray((self.limit - location) / self.sigma[draws], dtype=np.float64)
        return share_below(z, self.family).astype(np.float32)


@dataclass(frozen=True, slots=True, eq=False)
class _Above(_Below):
    """The share of parts above a limit."""

    def __call__(self, location: NDArray[np.float32], draws: Some) -> NDArray[np.float32]:
        """Return the share (a, n)."""
        z = np.asarray((self.limit - location) / self.sigma[draws], dtype=np.float64)
        return np.asarray(1 - share_below(z, self.family), dtype=np.float32)
