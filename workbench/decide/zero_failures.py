"""What parts show by being counted: zero-failure numbers, and what fewer parts could show."""

from __future__ import annotations

from dataclasses import dataclass

from workbench.numerics.parts_to_show import (
    failures_allowed,
    parts_with_failures,
    share_at_least,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Counting:
    """So many parts, at most `failures` of them failing, show a share with a confidence."""

    parts: int
    failures: int
    share: float
    confidence: float


def counting(share: float, *, confidence: float, failures: int = 0) -> Counting:
    """Return the fewest parts that show a share with at most so many failures.

    Exact binomial; without a failure the smallest n with shareⁿ ≤ 1 − confidence.

    Examples
    --------
    >>> counting(0.95, confidence=0.95).parts, counting(0.95, confidence=0.95, failures=2).parts
    (59, 124)
    """
    return Counting(
        parts=parts_with_failures(failures, share, confidence=confidence),
        failures=failures,
        share=share,
        confidence=confidence,
    )


def counting_of(parts: int, share: float, *, confidence: float) -> Counting | None:
    """Return what so many parts allow; None if even without a failure they show less."""
    allowed = failures_allowed(parts, share, confidence=confidence)
    if allowed is None:
        return None
    return Counting(parts=parts, failures=allowed, share=share, confidence=confidence)


def shown_without_failure(parts: int, *, confidence: float) -> float:
    """Return the share that so many parts show if none fails."""
    return share_at_least(0, parts, confidence=confidence)


def sure_without_failure(parts: int, share: float) -> float:
    """Return how sure so many parts make of a share if none fails: 1 − shareⁿ."""
    return 1 - share**parts
