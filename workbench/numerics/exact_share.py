"""Exact limits of a share, from parts that passed of those tried."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import betaincinv

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShareLimits:
    """Limits (n,) of shares between 0 and 1."""

    low: NDArray[np.float64]
    high: NDArray[np.float64]


def exact_share_limits(
    passed: NDArray[np.float64], tried: NDArray[np.float64], *, confidence: float
) -> ShareLimits:
    """Return two-sided limits of the share behind `passed` (n,) of `tried` (n,), tried > 0.

    Clopper and Pearson (1934), Biometrika 26, 404-413: each part a try of its own.

    Examples
    --------
    >>> found = exact_share_limits(np.array([0.0]), np.array([10.0]), confidence=0.95)
    >>> round(float(found.high[0]), 4)
    0.3085
    """
    tail = (1 - confidence) / 2
    failed = tried - passed
    # Where nothing passed (or all did) that end is 0 (or 1), and the beta has no such quantile.
    low = betaincinv(np.maximum(passed, 1), failed + 1, tail)
    high = betaincinv(passed + 1, np.maximum(failed, 1), 1 - tail)
    return ShareLimits(low=np.where(passed > 0, low, 0.0), high=np.where(failed > 0, high, 1.0))
