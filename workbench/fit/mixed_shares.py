"""The share of new parts that meet the requirement, where runs share setups, lots or parts.

A draw is one process: variance components and coefficients from their posterior
(`numerics.mixed_posterior`), plus a curve that the model form leaves out. In it a new part comes
from a new run, a new reset and a new lot, so all components scatter about the surface. That the
parts of one setup share its setting error does not matter for the share of single parts.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import Unavailable
from workbench.fit.foreseen import NormalParts
from workbench.fit.requirement_on_scale import requirement_on_scale
from workbench.fit.share_basis import share_basis
from workbench.fit.share_process import Yardstick
from workbench.fit.shares import wanting
from workbench.fit.surface_draws import surfaces
from workbench.numerics.mixed_posterior import mixed_draws
from workbench.numerics.posterior import stream, variance_draws

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.settings import Settings
    from workbench.fit.mixed_model import MixedModel
    from workbench.fit.surface_draws import Surfaces

RECENT = 16  # draws kept: a few outcomes, each for the search and its check


def mixed_foreseen(
    fit: MixedModel, settings: Settings, *, n_draws: int, seed: int, model_form: float
) -> NormalParts | Unavailable:
    """Return new parts at settings (n, k), in draws of the share outside the requirement."""
    limits = requirement_on_scale(fit.outcome)
    lacking = wanting(fit)
    if isinstance(limits, Unavailable):
        return limits
    if lacking is not None:
        return lacking
    drawn = _drawn(fit, n_draws=n_draws, seed=seed).bent(model_form)
    unit = _yardstick(fit)
    return NormalParts(
        process=drawn.process,
        spots=drawn.spots(settings),
        low=unit.measured(limits.low),
        high=unit.measured(limits.high),
        turned=limits.turned,
    )


def _yardstick(fit: MixedModel) -> Yardstick:
    spread = float(np.std(fit.response)) or 1.0
    return Yardstick(shift=float(fit.estimates[0]), unit=spread, variance=spread**2)


@lru_cache(maxsize=RECENT)
def _drawn(fit: MixedModel, *, n_draws: int, seed: int) -> Surfaces:
    """Return draws that depend on no point: a search asks for the same ones hundreds of times."""
    basis, unit = share_basis(fit), _yardstick(fit)
    rng = stream(seed, fit.outcome.name)
    measured = (fit.response - unit.shift) / unit.unit
    drawn = mixed_draws(rng, fit.all_terms, measured, n_draws=n_draws, half_cauchy=True)
    variance = drawn.variances.sum(axis=1) + _part_more(fit, rng, n_draws) / unit.variance
    return surfaces(basis, drawn.coefficients[:, basis.columns], rng, variance=variance)


def _part_more(fit: MixedModel, rng: np.random.Generator, n_draws: int) -> NDArray[np.float64]:
    # A run mean of m parts holds part / m of the scatter of parts; a new part has it whole.
    scatter = fit.part_scatter
    if scatter is None or scatter.df < 1:
        return np.zeros(n_draws)
    parts = variance_draws(rng, scatter.variance, df=scatter.df, n_draws=n_draws)
    return (1 - 1 / scatter.parts_per_run) * parts
