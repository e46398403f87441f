"""Least squares by Householder QR with scaled columns, dependent columns set aside by order.

Golub and Van Loan (2013), Matrix Computations, 4th ed., sections 5.2 and 5.3; the refinement
step is that of Björck (1967), BIT 7, 257-278.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import scipy  # its parts load when a function of theirs is first called

if TYPE_CHECKING:
    from numpy.typing import NDArray

# Sine of the angle between a column and the span of those before it. True aliasing leaves about
# 1e-15; the tenth-degree polynomial of the NIST "Filip" set, which is not aliased, leaves 4e-8.
RANK_TOLERANCE = 1e-11
# Leverage this close to 1: the run is met exactly whatever it read, its residual tells nothing.
LEVERAGE_ONE = 1e-8


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Factored:
    """A model matrix (n, p) taken apart once, for any number of outcomes.

    `kept` (p,) are the columns that do not depend on earlier ones (r of them), `Q` (n, r) and
    `R` (r, r) their factors after division by `scale` (r,). `combination` (p, p) writes each
    column as a sum of kept ones: column j is X @ combination[:, j].
    """

    X: NDArray[np.float64]
    kept: NDArray[np.bool_]
    scale: NDArray[np.float64]
    Q: NDArray[np.float64]
    R: NDArray[np.float64]
    combination: NDArray[np.float64]

    def __post_init__(self) -> None:
        for array in (self.X, self.kept, self.scale, self.Q, self.R, self.combination):
            array.setflags(write=False)

    @property
    def rank(self) -> int:
        """Number of kept columns."""
        return int(self.kept.sum())

    @property
    def error_df(self) -> int:
        """Rows minus rank."""
        return int(self.X.shape[0]) - self.rank

    def leverage(self) -> NDArray[np.float64]:
        """Return the diagonal (n,) of the hat matrix."""
        return np.asarray(np.einsum("ij,ij->i", self.Q, self.Q))

    def unscaled_covariance(self) -> NDArray[np.float64]:
        """Return (X′X)⁻¹ (p, p) of the kept columns, zeros elsewhere."""
        half = scipy.linalg.solve_triangular(self.R, np.eye(self.rank)) / self.scale[:, None]
        whole = np.zeros((self.kept.size, self.kept.size))
        whole[np.ix_(self.kept, self.kept)] = half @ half.T
        return whole


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solution:
    """Estimates (p, …), residuals (n, …) and residual sums of squares (…) of one or many outcomes.

    Estimates of columns that are not kept are 0.
    """

    estimates: NDArray[np.float64]
    residuals: NDArray[np.float64]
    rss: NDArray[np.float64]

    def __post_init__(self) -> None:
        for array in (self.estimates, self.residuals):
            array.setflags(write=False)


def factored(X: NDArray[np.float64], *, tolerance: float = RANK_TOLERANCE) -> Factored:
    """Return the matrix (n, p) taken apart; of dependent columns the earlier ones are kept."""
    matrix = np.array(X, dtype=np.float64)
    scale = _powers_of_two(np.linalg.norm(matrix, axis=0))
    scaled = matrix / scale
    places = _independent(scaled, tolerance)
    Q, R = np.linalg.qr(scaled[:, places])
    kept = np.zeros(matrix.shape[1], dtype=bool)
    kept[places] = True
    return Factored(
        X=matrix,
        kept=kept,
        scale=scale[places],
        Q=Q,
        R=R,
        combination=_combination(scaled, scale, (kept, Q, R)),
    )


def solved(whole: Factored, outcomes: NDArray[np.float64]) -> Solution:
    """Return the least-squares solution for one outcome (n,) or many (n, m) at once.

    A single outcome gets one refinement step in extended precision, which regains digits where
    residuals are large beside what is fitted.
    """
    y = np.asarray(outcomes, dtype=np.float64)
    scaled_estimates = scipy.linalg.solve_triangular(whole.R, whole.Q.T @ y)
    kept = whole.X[:, whole.kept] / whole.scale
    residuals = y - kept @ scaled_estimates
    if y.ndim == 1 and whole.rank:
        step = _refinement(whole, y, (scaled_estimates, residuals))
        scaled_estimates = scaled_estimates + step
        residuals = y - kept @ scaled_estimates
    estimates = np.zeros((whole.kept.size, *y.shape[1:]))
    estimates[whole.kept] = (scaled_estimates.T / whole.scale).T
    rss = np.asarray(np.einsum("i...,i...->...", residuals, residuals))
    return Solution(estimates=estimates, residuals=residuals, rss=rss)


def least_squares(X: NDArray[np.float64], outcomes: NDArray[np.float64]) -> Solution:
    """Return the solution for one outcome (n,) or many (n, m) on one model matrix (n, p)."""
    return solved(factored(X), outcomes)


def press_residuals(
    residuals: NDArray[np.float64], leverage: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return each run's residual (n, …) from a fit without it, 0 where leverage is 1.

    Allen (1974), Technometrics 16, 125-127: e / (1 − h).
    """
    shape = (-1,) + (1,) * (residuals.ndim - 1)
    room = np.where(leverage > 1 - LEVERAGE_ONE, np.inf, 1 - leverage).reshape(shape)
    return np.asarray(residuals / room)


def studentised_residuals(
    residuals: NDArray[np.float64], leverage: NDArray[np.float64], error_df: int
) -> NDArray[np.float64]:
    """Return externally studentised residuals (n,), 0 where they do not exist.

    Cook and Weisberg (1982), Residuals and Influence in Regression, section 2.2: the error
    variance without run i is (RSS − e²/(1 − h)) / (df − 1).
    """
    if error_df < 2:
        return np.zeros_like(residuals)
    room = np.where(leverage > 1 - LEVERAGE_ONE, np.inf, 1 - leverage)
    rss = float(residuals @ residuals)
    variance = (rss - residuals**2 / room) / (error_df - 1)
    known = (variance > rss * 1e-14) & np.isfinite(room)
    spread = np.sqrt(np.where(known, variance * room, 1.0))
    return np.asarray(np.where(known, residuals / spread, 0.0))


def joint_sum_of_squares(
    estimates: NDArray[np.float64], unscaled_covariance: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return b′C⁻¹b (…): what kept columns (q, …) explain beyond all the others.

    It is the rise of the residual sum of squares when the columns are left out (Searle 1971,
    Linear Models, section 3.6); C (q, q) is their block of (X′X)⁻¹.
    """
    size = 1 / np.sqrt(np.diagonal(unscaled_covariance))
    lower = np.linalg.cholesky(unscaled_covariance * np.outer(size, size))
    z = scipy.linalg.solve_triangular(lower, (estimates.T * size).T, lower=True)
    return np.asarray(np.einsum("i...,i...->...", z, z))


def _powers_of_two(norms: NDArray[np.float64]) -> NDArray[np.float64]:
    # Dividing by a power of two is exact, so scaling costs no digit.
    safe = np.where(norms > 0, norms, 1.0)
    return np.asarray(2.0 ** np.round(np.log2(safe)))


def _independent(scaled: NDArray[np.float64], tolerance: float) -> NDArray[np.intp]:
    places = np.flatnonzero(np.linalg.norm(scaled, axis=0) > 0)
    while places.size:
        angles = np.zeros(places.size)
        diagonal = np.abs(np.diagonal(np.linalg.qr(scaled[:, places], mode="r")))
        angles[: diagonal.size] = diagonal
        dependent = np.flatnonzero(angles <= tolerance)
        if dependent.size == 0:
            break
        # Behind the first dependent column the rest of R is noise: take it out and look again.
        places = np.delete(places, dependent[0])
    return places


def _combination(
    scaled: NDArray[np.float64],
    scale: NDArray[np.float64],
    factors: tuple[NDArray[np.bool_], NDArray[np.float64], NDArray[np.float64]],
) -> NDArray[np.float64]:
    kept, Q, R = factors
    whole = np.diag(kept.astype(float))
    if kept.all():
        return whole
    sums = scipy.linalg.solve_triangular(R, Q.T @ scaled[:, ~kept])
    natural = sums * scale[~kept] / scale[kept][:, None]
    whole[np.ix_(kept, ~kept)] = np.where(np.abs(sums) < 1e-9, 0.0, natural)
    return whole


def _refinement(
    whole: Factored,
    y: NDArray[np.float64],
    so_far: tuple[NDArray[np.float64], NDArray[np.float64]],
) -> NDArray[np.float64]:
    # Björck: correct r + Xb = y and X'r = 0 together, both misfits in extended precision.
    estimates, residuals = (one.astype(np.longdouble) for one in so_far)
    X = (whole.X[:, whole.kept] / whole.scale).astype(np.longdouble)
    misfit = (y.astype(np.longdouble) - residuals - X @ estimates).astype(np.float64)
    slant = (-(X.T @ residuals)).astype(np.float64)
    back = scipy.linalg.solve_triangular(whole.R, slant, trans="T")
    return np.asarray(scipy.linalg.solve_triangular(whole.R, whole.Q.T @ misfit - back))
