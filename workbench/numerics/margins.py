"""How far a mean must stand from its limit, and how well added runs would know the mean."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import nctdtrit, ndtri, stdtrit

if TYPE_CHECKING:
    from numpy.typing import NDArray

TOLD = 1e-8  # of the length of a row: what lies outside the rows is no rounding


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What runs tell of the mean at one point.

    `leverage` is x′(X′X)⁻¹x, inf where the runs do not tell the mean there; `error_df` are the
    runs left for scatter.
    """

    leverage: float
    error_df: int


def known_at(X: NDArray[np.float64], x: NDArray[np.float64]) -> Known:
    """Return what runs with the model rows X (n, p) tell of the mean at x (p,)."""
    _, sizes, directions = np.linalg.svd(X, full_matrices=False)
    kept = sizes > sizes.max(initial=0.0) * max(X.shape) * np.finfo(float).eps
    along = directions[kept] @ x
    outside = np.linalg.norm(x - directions[kept].T @ along)
    is_told = outside <= TOLD * max(1.0, float(np.linalg.norm(x)))
    return Known(
        leverage=float(((along / sizes[kept]) ** 2).sum()) if is_told else np.inf,
        error_df=int(X.shape[0] - kept.sum()),
    )


def needed_margin(known: Known, *, share: float, confidence: float) -> float:
    """Return how many residual sd the fitted mean must stand inside a limit, to promise a share.

    k = √h · t(confidence; df, z(share)/√h), a quantile of the noncentral t: the one-sided
    tolerance factor of a regression (Krishnamoorthy and Mathew 2009, Statistical Tolerance
    Regions, section 3.2); with h = 1/n that of a sample. inf where nothing is known; with no
    doubt about the mean what is left is the doubt about the scatter.
    """
    if not np.isfinite(known.leverage) or known.error_df < 1:
        return np.inf
    root = float(np.sqrt(known.leverage))
    return root * _noncentral_t(confidence, known.error_df, float(ndtri(share)) / root)


def _noncentral_t(confidence: float, df: int, shift: float) -> float:
    if shift == 0:  # libraries differ in how they meet the central end
        return float(stdtrit(df, confidence))
    return float(nctdtrit(df, shift, confidence))
