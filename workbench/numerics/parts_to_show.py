"""Exact binomial statements: how many parts show a share, and which share parts show."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import bdtr, betaincinv

if TYPE_CHECKING:
    from numpy.typing import NDArray


def parts_without_failure(share: float, *, confidence: float) -> int:
    """Return how many parts, none failing, show a share with that confidence.

    The smallest n with shareⁿ ≤ 1 − confidence (the success-run relation).

    Examples
    --------
    >>> parts_without_failure(0.95, confidence=0.95)
    59
    """
    return parts_with_failures(0, share, confidence=confidence)


def parts_with_failures(failures: int, share: float, *, confidence: float) -> int:
    """Return how many parts, at most `failures` failing, show a share with that confidence.

    The smallest n with P(X ≤ failures) ≤ 1 − confidence for X binomial of n and 1 − share.

    Examples
    --------
    >>> parts_with_failures(1, 0.95, confidence=0.95)
    93
    """
    high = failures + 1
    while _slips_through(failures, high, share) > 1 - confidence:
        high *= 2
    low = failures
    while high - low > 1:
        middle = (low + high) // 2
        if _slips_through(failures, middle, share) > 1 - confidence:
            low = middle
        else:
            high = middle
    return high


def failures_allowed(n_parts: int, share: float, *, confidence: float) -> int | None:
    """Return the most failures of n parts that still show a share; None if even none does not."""
    most = None
    for failures in range(n_parts):
        if _slips_through(failures, n_parts, share) > 1 - confidence:
            break
        most = failures
    return most


def share_at_least(failures: int, n_parts: int, *, confidence: float) -> float:
    """Return the exact one-sided lower limit of the share that passes (Clopper–Pearson).

    Clopper and Pearson (1934), Biometrika 26, 404-413; 0 where no part passed.

    Examples
    --------
    >>> round(share_at_least(0, 59, confidence=0.95), 4)
    0.9505
    """
    if failures >= n_parts:
        return 0.0
    return float(betaincinv(n_parts - failures, failures + 1, 1 - confidence))


def share_at_most(failures: int, n_parts: int, *, confidence: float) -> float:
    """Return the exact one-sided upper limit of the share that passes; 1 where none failed."""
    if failures <= 0 or n_parts == 0:
        return 1.0
    return float(betaincinv(n_parts - failures + 1, failures, confidence))


def at_most_failing(
    failures: int, n_parts: int, failing: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the chance of at most so many failures of n parts, for each failing share (m,)."""
    return np.asarray(bdtr(failures, n_parts, np.clip(failing, 0.0, 1.0)), dtype=np.float64)


def _slips_through(failures: int, n_parts: int, share: float) -> float:
    if failures == 0:
        return math.exp(n_parts * math.log(share))  # keeps its digits for shares near 1
    return float(bdtr(failures, n_parts, 1 - share))
