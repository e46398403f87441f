"""Log-likelihood of readings that are exact or only known to lie between two ends.

Standardised ends z are those of a normal or a smallest-extreme-value variable (the logarithm of
a Weibull one); Lawless (2003), Statistical Models and Methods for Lifetime Data, section 6.1.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import log_ndtr, ndtr, ndtri

if TYPE_CHECKING:
    from numpy.typing import NDArray

NORMAL, SMALLEST = "normal", "smallest extreme value"
LOG_ROOT_TWO_PI = 0.9189385332046727
STEEPEST = 600.0  # exp of more would overflow; the likelihood there is 0 long before


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RowLikelihood:
    """Log-likelihood of each row (n,) with its derivatives by the low and the high end."""

    value: NDArray[np.float64]
    by_low: NDArray[np.float64]
    by_high: NDArray[np.float64]
    low_low: NDArray[np.float64]
    high_high: NDArray[np.float64]
    low_high: NDArray[np.float64]


def log_density(z: NDArray[np.float64], family: str) -> NDArray[np.float64]:
    """Return the logarithm of the standard density at z."""
    if family == NORMAL:
        return np.asarray(-0.5 * z * z - LOG_ROOT_TWO_PI)
    return np.asarray(z - _exp(z))


def share_below(z: NDArray[np.float64], family: str) -> NDArray[np.float64]:
    """Return the standard distribution function at z."""
    if family == NORMAL:
        return np.asarray(ndtr(z))
    return np.asarray(-np.expm1(-_exp(z)))


def quantile(share: NDArray[np.float64], family: str) -> NDArray[np.float64]:
    """Return the standard quantile of shares above 0 and below 1."""
    if family == NORMAL:
        return np.asarray(ndtri(share))
    return np.asarray(np.log(-np.log1p(-share)))


def exact_rows(z: NDArray[np.float64], family: str) -> RowLikelihood:
    """Return log density and its derivatives, all in the slots of the high end."""
    nothing = np.zeros_like(z)
    if family == NORMAL:
        slope, bend = -z, np.full_like(z, -1.0)
    else:
        steep = _exp(z)
        slope, bend = 1 - steep, -steep
    return RowLikelihood(
        value=log_density(z, family),
        by_low=nothing,
        by_high=slope,
        low_low=nothing,
        high_high=bend,
        low_high=nothing,
    )


def between_rows(
    low: NDArray[np.float64], high: NDArray[np.float64], family: str
) -> RowLikelihood:
    """Return the log chance of lying between the ends (−inf and inf allowed), with derivatives."""
    value = log_between(low, high, family)
    low_slope, low_bend = _end(low, value, family)
    high_slope, high_bend = _end(high, value, family)
    return RowLikelihood(
        value=value,
        by_low=-low_slope,
        by_high=high_slope,
        low_low=-low_bend - low_slope**2,
        high_high=high_bend - high_slope**2,
        low_high=low_slope * high_slope,
    )


def log_between(
    low: NDArray[np.float64], high: NDArray[np.float64], family: str
) -> NDArray[np.float64]:
    """Return log(F(high) − F(low)) without loss in either tail."""
    if family == NORMAL:
        # In the upper tail the difference is taken between shares above.
        flipped = low > 0
        a = log_ndtr(np.where(flipped, -high, low))
        b = log_ndtr(np.where(flipped, -low, high))
        return np.asarray(b + np.log1p(-np.exp(np.minimum(a - b, -1e-300))))
    below, above = _exp(low), _exp(high)
    return np.asarray(np.log(-np.expm1(-np.maximum(above - below, 1e-300))) - below)


def _end(
    z: NDArray[np.float64], log_chance: NDArray[np.float64], family: str
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return density and its slope at an end, over the chance; 0 at an open end."""
    known = np.isfinite(z)
    at = np.where(known, z, 0.0)
    size = np.where(known, np.exp(np.minimum(log_density(at, family) - log_chance, STEEPEST)), 0.0)
    slope = -at if family == NORMAL else 1 - _exp(at)
    return size, size * slope


def _exp(z: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(np.exp(np.minimum(z, STEEPEST)))
