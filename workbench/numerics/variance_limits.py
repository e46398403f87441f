"""Confidence limits of a variance of normal scatter."""

from __future__ import annotations

from scipy.special import chdtri

from workbench.numerics.spans import Span


def variance_limits(variance: float, df: float, *, confidence: float) -> Span:
    """Return the two-sided limits of a variance estimated on `df` degrees of freedom.

    The ratio df × estimate ÷ variance follows a chi-square distribution; in the squared unit of
    the estimate (Montgomery 2013, Design and Analysis of Experiments, section 2.6).

    Examples
    --------
    >>> span = variance_limits(1.0, 10, confidence=0.95)
    >>> round(span.low, 3), round(span.high, 3)
    (0.488, 3.08)
    """
    tail = (1 - confidence) / 2
    total = df * variance
    return Span(low=total / float(chdtri(df, tail)), high=total / float(chdtri(df, 1 - tail)))
