"""Which columns make the scatter wider: models of variances of cells, or of residuals."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import minimize_scalar
from scipy.special import chdtrc, polygamma, psi

from workbench.numerics.profiles import profile_span

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.numerics.spans import Span

STEPS, SMALLEST_STEP = 200, 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cells:
    """Variances (m,) with degrees of freedom (m,) at rows of X (m, p), constant first."""

    X: NDArray[np.float64]
    variance: NDArray[np.float64]
    df: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LogVariances:
    """Coefficients (p,) of the log variance, covariance (p, p), twice the log-likelihood."""

    estimates: NDArray[np.float64]
    covariance: NDArray[np.float64]
    fit: float


@dataclass(frozen=True, slots=True, kw_only=True)
class VarianceTest:
    """Likelihood-ratio statistic, degrees of freedom and p of chi square."""

    statistic: float
    df: int
    p: float


def gamma_variances(cells: Cells, offset: NDArray[np.float64] | None = None) -> LogVariances:
    """Return the fit of the log variances as those of normal readings: df s²/σ² is chi square.

    A gamma model with log link and known shape df/2 (McCullagh and Nelder 1989, section 10.5).
    """
    shift = np.zeros(cells.df.size) if offset is None else offset
    floor = max(float(cells.variance.max()), 1e-300) * 1e-6
    X, half = cells.X, cells.df / 2
    target = (np.log(np.maximum(cells.variance, floor)) - shift) * np.sqrt(half)
    at = np.asarray(np.linalg.lstsq(X * np.sqrt(half)[:, None], target)[0], dtype=np.float64)
    value = _twice(cells, X @ at + shift)
    information = (X.T * half) @ X
    for _ in range(STEPS):
        ratio = cells.variance * np.exp(-np.clip(X @ at + shift, -700, 700))
        uphill = X.T @ (half * (ratio - 1))
        step = np.linalg.solve((X.T * (half * np.maximum(ratio, 0.2))) @ X, uphill)
        gain, size = float(uphill @ step), 1.0
        higher = _twice(cells, X @ (at + step) + shift)
        while higher < value and size > SMALLEST_STEP:
            size /= 2
            higher = _twice(cells, X @ (at + size * step) + shift)
        if higher < value:
            break
        at, value = at + size * step, higher
        if gain < 1e-13:
            break
    return LogVariances(
        estimates=at,
        covariance=np.asarray(np.linalg.inv(information), dtype=np.float64),
        fit=value,
    )


def gamma_test(cells: Cells, places: NDArray[np.intp]) -> VarianceTest:
    """Return the likelihood-ratio test that the coefficients at `places` are zero."""
    kept = np.setdiff1d(np.arange(cells.X.shape[1]), places)
    smaller = Cells(X=cells.X[:, kept], variance=cells.variance, df=cells.df)
    fall = max(gamma_variances(cells).fit - gamma_variances(smaller).fit, 0.0)
    return VarianceTest(statistic=fall, df=int(places.size), p=float(chdtrc(places.size, fall)))


def gamma_limits(cells: Cells, weights: NDArray[np.float64], *, fall_allowed: float) -> Span:
    """Return the profile interval of a weighted sum (weights (p,)) of the coefficients."""
    best = gamma_variances(cells)
    pivot = int(np.argmax(np.abs(weights)))
    others = np.delete(np.arange(weights.size), pivot)
    carrier = cells.X[:, pivot] / weights[pivot]
    columns = cells.X[:, others] - np.outer(carrier, weights[others])
    smaller = Cells(X=columns, variance=cells.variance, df=cells.df)

    def fall(at: float) -> float:
        return best.fit - gamma_variances(smaller, offset=carrier * at).fit

    return profile_span(
        fall,
        start=float(weights @ best.estimates),
        std_error=float(np.sqrt(weights @ best.covariance @ weights)),
        threshold=fall_allowed,
    )


def log_variance_regression(cells: Cells) -> LogVariances:
    """Return the weighted least-squares fit of the log variances, corrected for their bias.

    Bartlett and Kendall (1946), JRSS Supplement 8, 128-138: the mean of log s² is
    log σ² + ψ(df/2) − log(df/2), its variance ψ′(df/2). `fit` is minus the weighted residual
    sum of squares. Variances must be above 0.
    """
    half = cells.df / 2
    y = np.log(cells.variance) - (psi(half) - np.log(half))
    weight = 1 / polygamma(1, half)
    covariance = np.asarray(np.linalg.inv((cells.X.T * weight) @ cells.X), dtype=np.float64)
    estimates = covariance @ (cells.X.T @ (weight * y))
    misfit = y - cells.X @ estimates
    return LogVariances(estimates=estimates, covariance=covariance, fit=-float(weight @ misfit**2))


def equal_variances(variance: NDArray[np.float64], df: NDArray[np.float64]) -> VarianceTest:
    """Return Bartlett's test of equal variances (m,), all above 0, with df (m,)."""
    total, m = float(df.sum()), variance.size
    pooled = float(df @ variance) / total
    raw = total * np.log(pooled) - float(df @ np.log(variance))
    shrink = 1 + (float((1 / df).sum()) - 1 / total) / (3 * (m - 1))
    statistic = float(raw / shrink)
    return VarianceTest(statistic=statistic, df=m - 1, p=float(chdtrc(m - 1, statistic)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TwoScatters:
    """REML of y on X with log variance a + b c: b, its test, estimates (p,), covariance.

    `sigma` is the standard deviation where c is 0; log-likelihoods leave out ½ log|X′X|.
    """

    slope: float
    sigma: float
    test: VarianceTest
    estimates: NDArray[np.float64]
    covariance: NDArray[np.float64]
    log_likelihood: float
    log_likelihood_even: float


def two_scatters(
    X: NDArray[np.float64], y: NDArray[np.float64], carrier: NDArray[np.float64]
) -> TwoScatters:
    """Return the REML fit of the log variance along one column (n,), slope within ±6.

    Verbyla (1993), JRSS B 55, 493-508.
    """

    def lost(slope: float) -> float:
        return -_reml(X, y, slope * carrier)[0]

    best = minimize_scalar(lost, bounds=(-6.0, 6.0), method="bounded", options={"xatol": 1e-9})
    slope = float(best.x)
    value, variance = _reml(X, y, slope * carrier)
    even, _ = _reml(X, y, np.zeros_like(carrier))
    fall = max(2 * (value - even), 0.0)
    weight = np.exp(-slope * carrier)
    inverse = np.asarray(np.linalg.inv((X.T * weight) @ X), dtype=np.float64)
    return TwoScatters(
        slope=slope,
        sigma=float(np.sqrt(variance)),
        test=VarianceTest(statistic=fall, df=1, p=float(chdtrc(1, fall))),
        estimates=inverse @ (X.T @ (weight * y)),
        covariance=variance * inverse,
        log_likelihood=value,
        log_likelihood_even=even,
    )


def _reml(
    X: NDArray[np.float64], y: NDArray[np.float64], log_variance: NDArray[np.float64]
) -> tuple[float, float]:
    n, p = X.shape
    root = np.exp(-log_variance / 2)
    Q, R = np.linalg.qr(X * root[:, None])
    scaled = y * root
    misfit = scaled - Q @ (Q.T @ scaled)
    rss = float(misfit @ misfit)
    variance = rss / (n - p)
    log_det = 2 * float(np.log(np.abs(np.diagonal(R))).sum())
    value = (n - p) * (np.log(2 * np.pi * variance) + 1) + float(log_variance.sum()) + log_det
    return -0.5 * float(value), variance


def _twice(cells: Cells, log_variance: NDArray[np.float64]) -> float:
    ratio = cells.variance * np.exp(-np.clip(log_variance, -700, 700))
    return -float(cells.df @ (log_variance + ratio))
