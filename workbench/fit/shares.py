"""The share of new parts that meet the requirement: draws of it for a measured outcome.

The model is the whole one that was fitted, never a selected one. A draw is one process that the
runs leave possible: coefficients and scatter from the normal-inverse-gamma posterior under the
reference prior, plus a curve that the model form leaves out. In that process a new part is
normal on the outcome's scale; its settings scatter about what was set.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Role
from workbench.errors import Unavailable
from workbench.fit.foreseen import NormalParts
from workbench.fit.requirement_on_scale import requirement_on_scale
from workbench.fit.share_basis import moving, share_basis
from workbench.fit.share_process import Yardstick, bend, process_draws
from workbench.numerics.posterior import Spots

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.factors import Numeric
    from workbench.define.settings import Settings
    from workbench.fit.measured_model import MeasuredModel
    from workbench.fit.share_basis import ShareBasis, Surfaced
    from workbench.numerics.posterior import Process

RECENT = 24  # draws kept: a few outcomes, each for the search, its checks and kappa 0


def measured_foreseen(
    fit: MeasuredModel, settings: Settings, *, n_draws: int, seed: int, model_form: float
) -> NormalParts | Unavailable:
    """Return new parts at settings (n, k), in draws of the share below and above the requirement.

    Settings are *set* values in natural units; a noise factor stands at the centre of its
    production spread whatever they say. Draw d depends on seed, outcome name and n_draws alone,
    never on the points. Unavailable where there is no requirement, no scatter estimate, or a
    factor whose spread in production nobody has stated.
    """
    limits = requirement_on_scale(fit.outcome)
    variance = fit.residual_variance
    lacking = wanting(fit)
    if isinstance(limits, Unavailable):
        return limits
    if isinstance(variance, Unavailable):
        return variance
    if lacking is not None:
        return lacking
    drawn = _drawn(fit, variance, n_draws=n_draws, seed=seed, kappa=model_form)
    seen = spots(drawn.basis, settings, drawn.process)
    if fit.scatter is not None:
        seen = replace(seen, scatter=fit.scatter.columns(settings).astype(np.float32))
    return NormalParts(
        process=drawn.process,
        spots=seen,
        low=drawn.yardstick.measured(limits.low),
        high=drawn.yardstick.measured(limits.high),
        turned=limits.turned,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Drawn:
    """The processes drawn for a fit, with the columns and the unit that they are drawn in."""

    basis: ShareBasis
    yardstick: Yardstick
    process: Process


@lru_cache(maxsize=RECENT)
def _drawn(
    fit: MeasuredModel, variance: float, *, n_draws: int, seed: int, kappa: float
) -> _Drawn:
    """Return draws that depend on no point: a search asks for the same ones hundreds of times."""
    basis = share_basis(fit)
    yardstick = Yardstick(
        shift=float(fit.estimates[0]), unit=float(np.sqrt(variance)) or 1.0, variance=variance
    )
    process = process_draws(
        fit, basis, yardstick=yardstick, n_draws=n_draws, seed=seed, kappa=kappa
    )
    if kappa == 0:
        own = basis.columns.size
        basis = basis.straight()
        process = replace(process, coefficients=process.coefficients[:, :own].copy())
    return _Drawn(basis=basis, yardstick=yardstick, process=process)


def wanting(fit: Surfaced) -> Unavailable | None:
    """Return what is not stated or not settable, or None."""
    in_model = {name for term in fit.terms.terms for name in term.factors}
    for factor in fit.settings.factors:
        if factor.role is Role.OBSERVED and factor.name in in_model:
            return Unavailable(
                reason=f"{factor.name} is only read, not set, and stands in the model; no "
                "distribution of it in production is stated; leave it out of the terms, or "
                'give it role = "noise" with a spread'
            )
    return next((lack for one in moving(fit.settings.factors) if (lack := _unstated(one))), None)


def _unstated(factor: Numeric) -> Unavailable | None:
    unit = factor.unit or "its unit"
    if factor.role is Role.NOISE and factor.spread is None:
        return Unavailable(
            reason=f"nobody has stated how {factor.name} varies in production; give it a spread "
            f'in trial.toml (shape "normal" or "uniform", centre and width in {unit})'
        )
    if factor.role is Role.CONTROL and factor.setting_sd is None:
        return Unavailable(
            reason=f"nobody has stated how well the line holds {factor.name}; write setting_sd "
            f"in {unit} in trial.toml (0 if it is held exactly)"
        )
    return None


def spots(basis: ShareBasis, settings: Settings, process: Process) -> Spots:
    """Return the points: the mean moved by curvature, the slopes times the settings' scatter."""
    x, levels = basis.positions(settings), basis.level_part(settings)
    mean = basis.surface(x, levels)
    slopes: list[NDArray[np.float32]] = []
    touched: list[NDArray[np.intp]] = []
    for axis in basis.scattering:
        mean = mean + basis.sd[axis] ** 2 / 2 * basis.surface(x, levels, (axis, axis))
        some = np.flatnonzero(basis.exponents[:, axis] > 0)
        slope = basis.sd[axis] * basis.surface(x, levels, (axis,))[:, some]
        slopes.append(slope.astype(np.float32))
        touched.append(some)
    bent = bend(basis, settings, process)
    return Spots(
        mean=mean.astype(np.float32),
        slopes=tuple(slopes),
        slope_columns=tuple(touched),
        bend=bent.variance,
        kind=bent.kind,
    )
