"""Normal tolerance factors: how many standard deviations beside the mean hold a share of parts."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from scipy.optimize import brentq
from scipy.special import chdtrc, chdtri, chndtrix, nctdtr, ndtr, ndtri

from workbench.numerics.spans import Span

NODES = 96  # Gauss–Legendre over the sample mean: factors to better than 1e-8 for n ≥ 2
REACH = 9.0  # standard errors of the mean beyond which nothing is left to integrate


def one_sided_factor(n: int, share: float, *, confidence: float) -> float:
    """Return k such that mean + k·sd of n parts lies above a share of them, n ≥ 2.

    The quantile of the noncentral t with n − 1 degrees of freedom and noncentrality z·√n,
    over √n (Owen 1968, Technometrics 10, 445-478).

    Examples
    --------
    >>> round(one_sided_factor(10, 0.95, confidence=0.95), 3)
    2.911
    """
    return _quantile(n, float(ndtri(share)), confidence)


@lru_cache(maxsize=1024)
def two_sided_factor(n: int, share: float, *, confidence: float) -> float:
    """Return k such that mean ± k·sd of n parts holds a share of them, n ≥ 2.

    Exact: the chance that the interval holds the share, integrated over the sample mean (Wald
    and Wolfowitz 1946, Annals of Mathematical Statistics 17, 208-215).

    Examples
    --------
    >>> round(two_sided_factor(10, 0.95, confidence=0.95), 3)
    3.393
    """
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    away = (nodes + 1) / 2 * REACH  # of the mean, in standard errors; both sides are alike
    density = np.exp(-away * away / 2) * math.sqrt(2 / math.pi) * weights * REACH / 2
    # The half width that holds the share when the mean is off by `off` standard deviations.
    off = away / math.sqrt(n)
    half_width_squared = chndtrix(share, 1.0, off * off)

    def short_by(k: float) -> float:
        holds = chdtrc(n - 1, (n - 1) * half_width_squared / (k * k))
        return float(density @ holds) - confidence

    start = howe_factor(n, share, confidence=confidence)
    return float(brentq(short_by, start / 2, start * 2, xtol=1e-12, rtol=1e-12))


def howe_factor(n: int, share: float, *, confidence: float) -> float:
    """Return the two-sided factor by Howe's approximation, from which the exact one is sought.

    Howe (1969), Journal of the American Statistical Association 64, 610-620.
    """
    spread = float(chdtri(n - 1, confidence))
    z = float(ndtri((1 + share) / 2))
    return z * math.sqrt((n - 1) * (1 + 1 / n) / spread)


def beyond_at_most(k: float, n: int, *, confidence: float) -> float:
    """Return the share of parts that lies beyond a limit k·sd from the mean at most, n ≥ 2.

    The upper limit, exact for a normal outcome: the same equation as `one_sided_factor`, solved
    for the share.

    Examples
    --------
    >>> round(beyond_at_most(2.9109634, 10, confidence=0.95), 6)
    0.05
    """
    return float(ndtr(-_z_at(k, n, confidence)))


def beyond_at_least(k: float, n: int, *, confidence: float) -> float:
    """Return the share of parts that lies beyond a limit k·sd from the mean at least, n ≥ 2."""
    return float(ndtr(-_z_at(k, n, 1 - confidence)))


def margin_limits(k: float, n: int, *, confidence: float) -> Span:
    """Return two-sided limits of the distance of a limit from the mean, in standard deviations."""
    tail = (1 - confidence) / 2
    return Span(low=_z_at(k, n, 1 - tail), high=_z_at(k, n, tail))


def chance_beyond_factor(factor: float, margin: float, n: int) -> float:
    """Return the chance that n parts put a limit at least factor·sd from their mean.

    `margin` is the distance of the limit from the true mean in true standard deviations.
    """
    root = math.sqrt(n)
    return 1 - _below(factor * root, n - 1, margin * root)


def factor_seen(margin: float, n: int, *, chance: float) -> float:
    """Return the distance of a limit in sample sd that n parts fall short of with that chance.

    `margin` is its distance from the true mean in true standard deviations.
    """
    return _quantile(n, margin, chance)


@lru_cache(maxsize=4096)
def _quantile(n: int, z: float, chance: float) -> float:
    """Return k with P(T ≤ k√n) = chance for T noncentral t of n − 1 and z√n."""
    root = math.sqrt(n)

    def short_by(k: float) -> float:
        return _below(k * root, n - 1, z * root) - chance

    low, high = min(z, 0.0) - 1.0, max(z, 0.0) + 1.0
    while short_by(low) > 0:
        low -= 2 * (high - low)
    while short_by(high) < 0:
        high += 2 * (high - low)
    return float(brentq(short_by, low, high, xtol=1e-12, rtol=1e-12))


def _z_at(k: float, n: int, confidence: float) -> float:
    """Return z with P(T ≤ k√n) = confidence for T noncentral t of n − 1 and z√n."""
    root = math.sqrt(n)
    t = k * root

    def short_by(z: float) -> float:
        # The chance falls as the noncentrality grows.
        return confidence - _below(t, n - 1, z * root)

    low, high = min(k, 0.0) - 1.0, max(k, 0.0) + 1.0
    while short_by(low) > 0:
        low -= 2 * (high - low)
    while short_by(high) < 0:
        high += 2 * (high - low)
    return float(brentq(short_by, low, high, xtol=1e-12, rtol=1e-12))


def _below(t: float, df: int, shift: float) -> float:
    """Return P(T ≤ t) of the noncentral t.

    The library has no number (NaN) where t and shift lie far apart on either side of 0, beyond
    every digit; there the chance is 0 or 1.
    """
    found = float(nctdtr(df, shift, t))
    return found if math.isfinite(found) else float(t > shift)
