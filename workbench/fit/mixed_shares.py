"""The share of new parts that meet the requirement, where runs share setups, lots or parts.

A draw is one process: variance components and coefficients from their posterior
(`numerics.mixed_posterior`), plus a curve that the model form leaves out. In it a new part comes
from a new run, a new reset and a new lot, so all components scatter about the surface. That the
parts of one setup share its setting error does not matter for the share of single parts.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import Unavailable
from workbench.fit.faces import ShareDraws
from workbench.fit.requirement_on_scale import requirement_on_scale
from workbench.fit.share_basis import share_basis
from workbench.fit.share_process import Yardstick
from workbench.fit.shares import spots, wanting
from workbench.fit.surface_draws import surface_draws
from workbench.numerics.mixed_posterior import mixed_draws
from workbench.numerics.posterior import stream, tails, variance_draws

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.settings import Settings
    from workbench.fit.mixed_model import MixedModel
    from workbench.fit.share_basis import ShareBasis
    from workbench.numerics.posterior import Process

RECENT = 24  # draws kept: a few outcomes, each for the search, its checks and kappa 0


def mixed_share_draws(
    fit: MixedModel, settings: Settings, *, n_draws: int, seed: int, model_form: float
) -> ShareDraws | Unavailable:
    """Return draws (n_draws, n) of the share of new parts below and above the requirement."""
    limits = requirement_on_scale(fit.outcome)
    lacking = wanting(fit)
    if isinstance(limits, Unavailable):
        return limits
    if lacking is not None:
        return lacking
    drawn = _drawn(fit, n_draws=n_draws, seed=seed, kappa=model_form)
    found = tails(
        drawn.process,
        spots(drawn.basis, settings, drawn.process),
        low=drawn.yardstick.measured(limits.low),
        high=drawn.yardstick.measured(limits.high),
    )
    below, above = (found.above, found.below) if limits.turned else (found.below, found.above)
    return ShareDraws(too_low=below, too_high=above)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Drawn:
    basis: ShareBasis
    yardstick: Yardstick
    process: Process


@lru_cache(maxsize=RECENT)
def _drawn(fit: MixedModel, *, n_draws: int, seed: int, kappa: float) -> _Drawn:
    """Return draws that depend on no point: a search asks for the same ones hundreds of times."""
    basis = share_basis(fit)
    spread = float(np.std(fit.response)) or 1.0
    yardstick = Yardstick(shift=float(fit.estimates[0]), unit=spread, variance=spread**2)
    rng = stream(seed, fit.outcome.name)
    measured = (fit.response - yardstick.shift) / spread
    drawn = mixed_draws(rng, fit.all_terms, measured, n_draws=n_draws, half_cauchy=True)
    variance = drawn.variances.sum(axis=1) + _part_more(fit, rng, n_draws) / spread**2
    process = surface_draws(
        basis, drawn.coefficients[:, basis.columns], rng, kappa=kappa, variance=variance
    )
    return _Drawn(basis=basis, yardstick=yardstick, process=process)


def _part_more(fit: MixedModel, rng: np.random.Generator, n_draws: int) -> NDArray[np.float64]:
    # A run mean of m parts holds part / m of the scatter of parts; a new part has it whole.
    scatter = fit.part_scatter
    if scatter is None or scatter.df < 1:
        return np.zeros(n_draws)
    parts = variance_draws(rng, scatter.variance, df=scatter.df, n_draws=n_draws)
    return (1 - 1 / scatter.parts_per_run) * parts
