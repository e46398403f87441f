"""Checks of a fit: runs one by one, how well it predicts, and other scales for the outcome."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import Unavailable
from workbench.fit.core import with_response
from workbench.fit.nouns import Diagnostics, PowerFamily, PseudoError, ScaleCheck
from workbench.fit.scales import on_scale
from workbench.fit.term_tests import term_tests
from workbench.numerics.box_cox import power_profile
from workbench.numerics.least_squares import (
    LEVERAGE_ONE,
    press_residuals,
    studentised_residuals,
)
from workbench.numerics.pseudo_error import (
    SMALLEST_SET,
    pseudo_standard_error,
    simulated_critical_values,
    t_critical_values,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.fit.core import Core
    from workbench.fit.nouns import Effect

SCALES = ("as read", "log", "square root", "inverse")


@dataclass(frozen=True, slots=True, kw_only=True)
class Shares:
    """Shares of the total sum of squares about the mean that the model explains."""

    r_squared: float | Unavailable
    adjusted: float | Unavailable
    predicted: float | Unavailable


def diagnostics(core: Core) -> Diagnostics:
    """Return fitted values, residuals, leverage, studentised and deletion residuals (n,)."""
    leverage = core.whole.leverage()
    met_exactly = leverage > 1 - LEVERAGE_ONE
    studentised = studentised_residuals(core.residuals, leverage, core.error_df)
    undefined = met_exactly | (core.error_df < 2)
    return Diagnostics(
        fitted=core.response - core.residuals,
        residuals=np.where(met_exactly, 0.0, core.residuals),
        leverage=leverage,
        studentised=np.where(undefined, 0.0, studentised),
        press=np.where(undefined, 0.0, press_residuals(core.residuals, leverage)),
        undefined=undefined,
    )


def shares(core: Core) -> Shares:
    """Return R², adjusted R² and predicted R² (from PRESS; Allen 1974)."""
    if core.is_constant:
        constant = Unavailable(reason="constant: every run has the same mean, nothing to explain")
        return Shares(r_squared=constant, adjusted=constant, predicted=constant)
    plain = 1 - core.rss / core.total
    if isinstance(core.variance, Unavailable):
        return Shares(r_squared=plain, adjusted=core.variance, predicted=core.variance)
    adjusted = 1 - core.variance / (core.total / (core.response.size - 1))
    leverage = core.whole.leverage()
    alone = leverage > 1 - LEVERAGE_ONE
    if alone.any():
        rows = int(alone.sum())
        predicted: float | Unavailable = Unavailable(
            reason=f"{rows} run{'s are' if rows > 1 else ' is'} met exactly whatever was read "
            "(leverage 1): the other runs say nothing about it"
        )
    else:
        press = press_residuals(core.residuals, leverage)
        predicted = 1 - float(press @ press) / core.total
    return Shares(r_squared=plain, adjusted=adjusted, predicted=predicted)


def pseudo_error(core: Core, effects: tuple[Effect, ...]) -> PseudoError | Unavailable:
    """Return Lenth's pseudo standard error of the effects where runs give no error of their own.

    Sizes are on the model scale (a difference of natural logarithms on "log").
    """
    if core.error_df:
        return Unavailable(
            reason=f"not needed: the runs give an error estimate with {core.error_df} "
            f"degree{'s' if core.error_df > 1 else ''} of freedom"
        )
    if core.is_constant:
        return Unavailable(reason="constant: every run has the same mean")
    reason = _not_alike(core, effects)
    if reason:
        return Unavailable(reason=reason)
    sizes = np.array([np.log(one.value) if one.is_ratio else one.value for one in effects])
    value = float(pseudo_standard_error(sizes))
    if value == 0:
        return Unavailable(reason="more than half of the effects are exactly zero")
    simulated, by_t = simulated_critical_values(sizes.size), t_critical_values(sizes.size)
    margin = simulated.individual * value
    return PseudoError(
        value=value,
        margin=margin,
        simultaneous_margin=simulated.simultaneous * value,
        n_effects=sizes.size,
        standing_out=tuple(
            one.name for one, size in zip(effects, sizes, strict=True) if abs(size) > margin
        ),
        margin_by_t=by_t.individual * value,
        simultaneous_margin_by_t=by_t.simultaneous * value,
    )


def power_family(core: Core, as_read: NDArray[np.float64]) -> PowerFamily | Unavailable:
    """Return the best power of the outcome (n, run means as read) with its 95 % interval."""
    if isinstance(core.variance, Unavailable):
        return core.variance
    if core.is_constant or core.variance == 0:
        return Unavailable(reason="without scatter no scale is better than another")
    if (as_read <= 0).any():
        return Unavailable(reason="powers exist for outcomes above zero only")
    found = power_profile(core.whole, as_read)
    if found.low is None or found.high is None:
        ratio = float(as_read.max() / as_read.min())
        return Unavailable(
            reason=f"the readings span too little to tell (highest over lowest {ratio:.3g}): "
            "powers as far as ±10 fit about as well"
        )
    return PowerFamily(best=found.best, low=found.low, high=found.high)


def scale_checks(
    core_as_fitted: Core, as_read: NDArray[np.float64], scale: str
) -> tuple[ScaleCheck, ...]:
    """Return p by term of the same model on each scale that the readings allow.

    `scale` is that of the fit; on the others run means (n,) as read are taken to the scale.
    """
    allowed = SCALES if (as_read > 0).all() else SCALES[:1]
    found = []
    for other in allowed:
        on_other = core_as_fitted
        if other != scale:
            on_other = with_response(core_as_fitted, on_scale(as_read, other))
        tests = term_tests(on_other)
        found.append(ScaleCheck(scale=other, p=tuple((str(one.term), one.p) for one in tests)))
    return tuple(found)


def _not_alike(core: Core, effects: tuple[Effect, ...]) -> str:
    kept = core.whole.kept.copy()
    kept[0] = False
    kept[kept.size - core.matrix.n_block_columns :] = False
    if len(effects) < SMALLEST_SET:
        return f"{len(effects)} effects are too few to tell which of them are scatter"
    if int(kept.sum()) != len(effects):
        return "a category of more than two levels has no single effect to compare with others"
    covariance = core.unscaled[np.ix_(kept, kept)]
    size = np.diagonal(covariance)
    off = covariance - np.diag(size)
    if np.abs(off).max() > 1e-9 * size.max() or np.ptp(size) > 1e-9 * size.max():
        return (
            "the effects are not independent and equally precise (settings drifted, runs lost or "
            "levels unbalanced), so one yardstick does not fit them all; repeat some runs instead"
        )
    return ""
