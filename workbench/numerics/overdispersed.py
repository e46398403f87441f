"""Counts that scatter more than chance: negative binomial and beta-binomial distributions.

`spread` is the squared coefficient of variation of the rate behind a count (variance
m + spread m²), or for x out of n the a in a beta distribution of the share with shape 1/a
(variance n p(1 − p)(1 + (n − 1)a/(1 + a))).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import minimize_scalar
from scipy.special import betainc, gammaincc, gammaln, psi

from workbench.numerics.endless import endless

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.numerics.counts import CountRows, CountSolution

NO_SPREAD = 1e-6  # below this the gamma functions lose digits and the spread is nothing
STEPS, SMALLEST = 60, 1e-9
SETTLED = 1e-11  # of the log-likelihood


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OverdispersedSolution:
    """Estimates (p,), (X′WX)⁻¹ (p, p) with the spread as known, spread, log-likelihood."""

    estimates: NDArray[np.float64]
    covariance: NDArray[np.float64]
    spread: float
    log_likelihood: float


def log_chances(
    rows: CountRows, link: NDArray[np.float64], spread: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the log chance (…, n) of the counts at x′β (…, n) and spread (…, 1)."""
    mean = rows.mean(link)
    a = np.maximum(spread, NO_SPREAD)
    if rows.trials is None:
        return _negative_binomial(rows.count, mean, 1 / a)
    share = np.clip(mean / rows.trials, 1e-12, 1 - 1e-12)
    return _beta_binomial(rows, share / a, (1 - share) / a)


def weights(
    rows: CountRows, mean: NDArray[np.float64], spread: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return what each row (…, n) adds to the information on x′β."""
    plain = rows.variance(mean)
    if rows.trials is None:
        return np.asarray(plain / (1 + spread * mean))
    return np.asarray(plain / (1 + (rows.trials - 1) * spread / (1 + spread)))


def overdispersed(
    X: NDArray[np.float64], rows: CountRows, poisson: CountSolution
) -> OverdispersedSolution:
    """Return the maximum-likelihood fit, from that without spread.

    Rows whose likelihood rises for ever are left out, as in `poisson`.
    """
    found = endless(X, rows.pull)
    if found is not None:
        X, rows = X[~found.rows] @ found.held, rows.some(~found.rows)
    span = np.eye(X.shape[1]) if found is None else found.held
    start = span.T @ poisson.estimates

    def lost(log_spread: float) -> float:
        return -_at_spread(X, rows, start, spread=float(np.exp(log_spread))).log_likelihood

    best = minimize_scalar(
        lost, bounds=(np.log(NO_SPREAD), np.log(50.0)), method="bounded", options={"xatol": 1e-7}
    )
    inner = _at_spread(X, rows, start, spread=float(np.exp(best.x)))
    return OverdispersedSolution(
        estimates=span @ inner.estimates,
        covariance=span @ inner.covariance @ span.T,
        spread=inner.spread,
        log_likelihood=inner.log_likelihood,
    )


def share_up_to(
    most: float,
    mean: NDArray[np.float64],
    spread: NDArray[np.float64],
    *,
    trials: int | None,
) -> NDArray[np.float64]:
    """Return the chance of a count of `most` or less, by mean count and spread (same shapes)."""
    if most < 0:
        return np.zeros(np.broadcast(mean, spread).shape)
    k = np.floor(most + 1e-9)
    if trials is not None:
        return _beta_binomial_up_to(int(k), mean / trials, spread, trials=trials)
    size = 1 / np.maximum(spread, NO_SPREAD)
    known = betainc(size, k + 1, size / (size + mean))
    known_or_poisson = np.where(spread > NO_SPREAD, known, gammaincc(k + 1, mean))
    return np.asarray(known_or_poisson, dtype=np.float64)


def _at_spread(
    X: NDArray[np.float64], rows: CountRows, start: NDArray[np.float64], *, spread: float
) -> OverdispersedSolution:
    """Return the fit at a known spread, by scoring with halved steps."""
    a = np.array([spread])
    at = start
    value = float(log_chances(rows, X @ at, a).sum())
    for _ in range(STEPS):
        mean = rows.mean(X @ at)
        information = (X.T * weights(rows, mean, a)) @ X
        uphill = X.T @ _slopes(rows, mean, spread)
        step = np.linalg.solve(information, uphill)
        gain, size = float(uphill @ step), 1.0
        higher = float(log_chances(rows, X @ (at + step), a).sum())
        while higher < value - 1e-12 * abs(value) and size > SMALLEST:
            size /= 2
            higher = float(log_chances(rows, X @ (at + size * step), a).sum())
        at, value = at + size * step, higher
        if gain < SETTLED:
            break
    information = (X.T * weights(rows, rows.mean(X @ at), a)) @ X
    return OverdispersedSolution(
        estimates=at,
        covariance=np.asarray(np.linalg.inv(information), dtype=np.float64),
        spread=spread,
        log_likelihood=value,
    )


def _slopes(rows: CountRows, mean: NDArray[np.float64], spread: float) -> NDArray[np.float64]:
    if rows.trials is None:
        return np.asarray((rows.count - mean) / (1 + spread * mean))
    share, a = np.clip(mean / rows.trials, 1e-12, 1 - 1e-12), max(spread, NO_SPREAD)
    first, second = share / a, (1 - share) / a
    y, rest = rows.count, rows.trials - rows.count
    by_share = psi(y + first) - psi(first) - psi(rest + second) + psi(second)
    return np.asarray(by_share / a * share * (1 - share))


def _negative_binomial(
    y: NDArray[np.float64], mean: NDArray[np.float64], size: NDArray[np.float64]
) -> NDArray[np.float64]:
    whole = np.log(size / (size + mean)) * size + y * np.log(
        np.maximum(mean, 1e-300) / (size + mean)
    )
    return np.asarray(gammaln(y + size) - gammaln(size) - gammaln(y + 1) + whole)


def _beta_binomial(
    rows: CountRows, first: NDArray[np.float64], second: NDArray[np.float64]
) -> NDArray[np.float64]:
    if rows.trials is None:
        raise ValueError
    y, n = rows.count, rows.trials
    ways = gammaln(n + 1) - gammaln(y + 1) - gammaln(n - y + 1)
    return np.asarray(ways + _log_beta(y + first, n - y + second) - _log_beta(first, second))


def _log_beta(a: NDArray[np.float64], b: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(gammaln(a) + gammaln(b) - gammaln(a + b))


def _beta_binomial_up_to(
    most: int, share: NDArray[np.float64], spread: NDArray[np.float64], *, trials: int
) -> NDArray[np.float64]:
    """Return the sum of chances by their recurrence, from the nearer end."""
    if most >= trials:
        return np.ones(np.broadcast(share, spread).shape)
    if most > trials / 2:
        return 1 - _beta_binomial_up_to(trials - most - 1, 1 - share, spread, trials=trials)
    a = np.maximum(spread, NO_SPREAD)
    first = np.clip(share, 1e-12, 1 - 1e-12) / a
    second = np.clip(1 - share, 1e-12, 1 - 1e-12) / a
    log_one = _log_beta(first, second + trials) - _log_beta(first, second)
    total = one = np.exp(log_one)
    for y in range(most):
        one = one * (trials - y) / (y + 1) * (first + y) / (second + trials - y - 1)
        total = total + one
    return np.asarray(np.minimum(total, 1.0))
