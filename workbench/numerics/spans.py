"""A span of numbers."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """Two ends, low first."""

    low: float
    high: float
