"""Tolerance statements: the values between which a stated share of parts lies."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class ToleranceStatement:
    """With `confidence`, at least `share` of parts read from `low` to `high` (None: open).

    Ends are in the outcome's unit, found on the scale where its scatter is even.
    """

    share: float
    confidence: float
    low: float | None
    high: float | None
    factor: float
    n: int
