"""The noncentral F distribution as the power of tests needs it."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
import scipy  # its parts load when a function of theirs is first called

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

FAR = 1e8  # a noncentrality at which every test of at least one error df has found its effect


def power_of_f(
    df: ArrayLike, error_df: ArrayLike, noncentrality: ArrayLike, *, alpha: float
) -> NDArray[np.float64]:
    """Return the chance that an F test at level alpha finds an effect, elementwise.

    The noncentrality is the effect's sum of squares over the error variance (Scheffé 1959, The
    Analysis of Variance, appendix IV). All degrees of freedom must be above 0.
    """
    between, within = np.asarray(df, dtype=np.float64), np.asarray(error_df, dtype=np.float64)
    limit = critical_f(between, within, alpha=alpha)
    lam = np.asarray(noncentrality, dtype=np.float64)
    # At zero the distribution is the central one; libraries differ in how they meet that end.
    central = scipy.special.fdtrc(between, within, limit)
    shifted = 1.0 - scipy.special.ncfdtr(between, within, np.where(lam > 0, lam, 1.0), limit)
    return np.clip(np.asarray(np.where(lam > 0, shifted, central), dtype=np.float64), 0.0, 1.0)


def critical_f(df: ArrayLike, error_df: ArrayLike, *, alpha: float) -> NDArray[np.float64]:
    """Return the value that F exceeds with chance alpha where there is no effect."""
    between, within = np.asarray(df, dtype=np.float64), np.asarray(error_df, dtype=np.float64)
    return np.asarray(scipy.special.fdtri(between, within, 1.0 - alpha), dtype=np.float64)


@lru_cache(maxsize=1024)
def noncentrality_for(df: float, error_df: float, *, alpha: float, chance: float) -> float:
    """Return the noncentrality at which the test finds an effect with that chance.

    `chance` lies above alpha and below 1. The root is bracketed and then found by Brent's
    method to a relative 1e-12.
    """
    high = 1.0
    while power_of_f(df, error_df, high, alpha=alpha) < chance and high < FAR:
        high *= 2.0

    def short_by(noncentrality: float) -> float:
        return float(power_of_f(df, error_df, noncentrality, alpha=alpha)) - chance

    return float(scipy.optimize.brentq(short_by, 0.0, high, xtol=1e-12, rtol=1e-12))
