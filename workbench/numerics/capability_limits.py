"""Limits of capability and performance indices of n parts, for a normal outcome."""

from __future__ import annotations

import math

from scipy.special import chdtri, ndtri

from workbench.numerics.spans import Span
from workbench.numerics.tolerance_factors import margin_limits


def spread_index(low: float, high: float, sd: float) -> float:
    """Return the width between two limits over six standard deviations."""
    return (high - low) / (6 * sd)


def spread_limits(index: float, n: int, *, confidence: float) -> Span:
    """Return two-sided limits of a spread index of n parts, exact by chi-square.

    Examples
    --------
    >>> found = spread_limits(1.0, 50, confidence=0.9)
    >>> round(found.low, 4), round(found.high, 4)
    (0.8321, 1.1636)
    """
    tail = (1 - confidence) / 2
    df = n - 1
    return Span(
        low=index * math.sqrt(float(chdtri(df, 1 - tail)) / df),
        high=index * math.sqrt(float(chdtri(df, tail)) / df),
    )


def one_limit_limits(index: float, n: int, *, confidence: float) -> Span:
    """Return two-sided limits of an index against one limit, exact by the noncentral t."""
    found = margin_limits(3 * index, n, confidence=confidence)
    return Span(low=found.low / 3, high=found.high / 3)


def nearest_limits(index: float, n: int, *, confidence: float) -> Span:
    """Return two-sided limits of the index of the nearer of two limits, approximately.

    Bissell (1990), Applied Statistics 39, 331-340.

    Examples
    --------
    >>> found = nearest_limits(2 / 3, 50, confidence=0.9)
    >>> round(found.low, 4), round(found.high, 4)
    (0.5315, 0.8019)
    """
    z = float(ndtri((1 + confidence) / 2))
    away = z * math.sqrt(1 / (9 * n) + index * index / (2 * (n - 1)))
    return Span(low=index - away, high=index + away)
