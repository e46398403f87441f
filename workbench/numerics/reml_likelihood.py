"""The restricted (and the full) likelihood of variance components, with exact derivatives.

Variances are σ² times ratios γ: S(γ) = I + Σ γ_r W_r W_r′ is the covariance of the error
contrasts in units of the residual variance σ². Harville (1977), Journal of the American
Statistical Association 72, 320-338; Searle, Casella and McCulloch (1992), Variance Components,
chapter 6.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.numerics.random_terms import RandomTerms

LOG_TWO_PI = float(np.log(2 * np.pi))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pieces:
    """What the likelihood and its derivatives are made of at one γ (R,).

    `log_det` = log|S|; `traces` (R,) = tr S⁻¹A_r with A_r = W_r W_r′; `cross_traces` (R, R) =
    tr S⁻¹A_r S⁻¹A_s; `square` = u′S⁻¹u; `squares` (R,) = u′S⁻¹A_r S⁻¹u; `cross_squares` (R, R) =
    u′S⁻¹A_r S⁻¹A_s S⁻¹u.
    """

    n: int
    log_det: float
    traces: NDArray[np.float64]
    cross_traces: NDArray[np.float64]
    square: float
    squares: NDArray[np.float64]
    cross_squares: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Height:
    """A profile log-likelihood at one γ: value, gradient (R,), −H and its expectation (R, R)."""

    value: float
    gradient: NDArray[np.float64]
    curvature: NDArray[np.float64]
    expected: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Contrasts:
    """An outcome's `n` error contrasts: `inside` (k,) where random terms reach them.

    `outside` is the sum of squares of the others, which see the residual only.
    """

    n: int
    inside: NDArray[np.float64]
    outside: float


def contrasts(terms: RandomTerms, y: NDArray[np.float64]) -> Contrasts:
    """Return the error contrasts of the outcome y (n,)."""
    u = terms.K.T @ y
    reached = terms.W.shape[0]
    outside = u[reached:]
    return Contrasts(n=u.size, inside=u[:reached], outside=float(outside @ outside))


def pieces(
    projected: NDArray[np.float64],
    seen: Contrasts,
    *,
    per_column: NDArray[np.float64],
    belongs: NDArray[np.float64],
) -> Pieces | None:
    """Return the pieces for W (k, q) and contrasts; None where S is not positive definite.

    `per_column` (q,) is γ of each column's term, `belongs` (q, R) marks the term of a column.
    """
    covariance = (projected * per_column) @ projected.T
    covariance.flat[:: covariance.shape[0] + 1] += 1.0
    # One general solve: a triangular one starts BLAS threads at any size, which wait for one
    # another far longer than the work takes when the machine is busy.
    try:
        lower = np.linalg.cholesky(covariance)
        solved = np.linalg.solve(covariance, np.column_stack([projected, seen.inside]))
    except np.linalg.LinAlgError:
        return None
    inner, slope = projected.T @ solved[:, :-1], projected.T @ solved[:, -1]
    square = float(seen.inside @ solved[:, -1]) + seen.outside
    if not square >= 0:
        return None  # so near the edge of the possible that rounding decides
    return Pieces(
        n=seen.n,
        log_det=2 * float(np.log(np.diagonal(lower)).sum()),
        traces=np.diagonal(inner) @ belongs,
        cross_traces=belongs.T @ (inner * inner) @ belongs,
        square=square,
        squares=(slope * slope) @ belongs,
        cross_squares=belongs.T @ (slope[:, None] * inner * slope) @ belongs,
    )


def profile_height(determinant: Pieces, quadratic: Pieces) -> Height:
    """Return the log-likelihood with σ² at its maximum, as a function of γ.

    The determinant is that of the error contrasts (restricted likelihood) or of all rows (full
    likelihood); the quadratic form is that of the error contrasts in both.
    """
    n, square, squares = determinant.n, quadratic.square, quadratic.squares
    traces, crosses = determinant.traces, determinant.cross_traces
    drop = squares / square
    return Height(
        value=-0.5 * (n * LOG_TWO_PI + determinant.log_det + n * np.log(square / n) + n),
        gradient=-0.5 * (traces - n * drop),
        curvature=0.5
        * (-crosses + n * (2 * quadratic.cross_squares / square - np.outer(drop, drop))),
        expected=0.5 * (crosses - np.outer(traces, traces) / n),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Information:
    """First and second order of the restricted likelihood in the variances (R + 1,), σ² last.

    `value` is the log-likelihood of the error contrasts at these variances.
    """

    value: float
    gradient: NDArray[np.float64]
    observed: NDArray[np.float64]
    expected: NDArray[np.float64]

    def uncertainty(self, *, observed: bool = False) -> NDArray[np.float64]:
        """Return the covariance (R + 1, R + 1) of the variances, by default from expectation."""
        return np.asarray(
            np.linalg.inv(self.observed if observed else self.expected), dtype=np.float64
        )


def information(at: Pieces, ratios: NDArray[np.float64], residual: float) -> Information:
    """Return the information of variances `residual` × (`ratios`, 1) about themselves.

    What belongs to σ² follows from that of the others, since I = S − Σ γ_r A_r.
    """
    traces, crosses = _with_residual(ratios, at.n, (at.traces, at.cross_traces))
    squares, cross_squares = _with_residual(ratios, at.square, (at.squares, at.cross_squares))
    expected = 0.5 * crosses / residual**2
    return Information(
        value=-0.5 * (at.n * (LOG_TWO_PI + np.log(residual)) + at.log_det + at.square / residual),
        gradient=-0.5 * (traces / residual - squares / residual**2),
        observed=cross_squares / residual**3 - expected,
        expected=expected,
    )


def moment_variances(at: Pieces, ratios: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the variances (R + 1,) that make quadratic forms meet their expectation at γ.

    One step of Fisher scoring; the restricted maximum itself where plans are balanced
    (C. R. Rao 1971, Journal of Multivariate Analysis 1, 445-456).
    """
    _, crosses = _with_residual(ratios, at.n, (at.traces, at.cross_traces))
    squares, _ = _with_residual(ratios, at.square, (at.squares, at.cross_squares))
    return np.asarray(np.linalg.lstsq(crosses, squares)[0])


def _with_residual(
    ratios: NDArray[np.float64],
    total: float,
    others: tuple[NDArray[np.float64], NDArray[np.float64]],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    each, crosses = others
    own = total - ratios @ each
    beside = each - crosses @ ratios
    whole = np.empty((each.size + 1, each.size + 1))
    whole[:-1, :-1] = crosses
    whole[-1, :-1] = whole[:-1, -1] = beside
    whole[-1, -1] = own - ratios @ beside
    return np.append(each, own), whole
