"""Ends of a profile interval: where twice the fall of a log-likelihood reaches a threshold."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import brentq

from workbench.numerics.spans import Span

if TYPE_CHECKING:
    from collections.abc import Callable

WIDENINGS = 60
CLOSE = 1e-7  # standard errors


def profile_span(
    fall: Callable[[float], float],
    *,
    start: float,
    std_error: float,
    threshold: float,
    close: float = CLOSE,
) -> Span:
    """Return where `fall` (twice the log-likelihood lost, 0 at `start`) reaches the threshold.

    −inf or inf where it never does within 2⁶⁰ standard errors; found to `close` standard errors.
    """
    size = std_error if np.isfinite(std_error) and std_error > 0 else max(abs(start), 1.0)
    root = float(np.sqrt(threshold))
    return Span(
        low=_end(fall, (start, -size), root, close=close),
        high=_end(fall, (start, size), root, close=close),
    )


def profile_end(
    fall: Callable[[float], float], *, start: float, step: float, threshold: float
) -> float:
    """Return the end on the side of `step`, seen from a start within the interval."""
    return _end(fall, (start, step), float(np.sqrt(threshold)), close=CLOSE)


def _end(
    fall: Callable[[float], float], seen: tuple[float, float], root: float, *, close: float
) -> float:
    start, step = seen
    # The signed root of the fall is nearly straight, which Brent's method rewards.
    inside, reach = start, root * step

    def beyond(value: float) -> float:
        lost = fall(value)
        return float(np.sqrt(max(lost, 0.0))) - root if np.isfinite(lost) else root

    for _ in range(WIDENINGS):
        outside = inside + reach
        over = beyond(outside)
        if over >= 0:
            tolerance = close * max(abs(step), abs(outside) * 1e-6, 1e-300)
            return float(brentq(beyond, inside, outside, xtol=tolerance, rtol=1e-12))
        inside, reach = outside, reach * (0.25 if over > -0.2 * root else 1.0) * 2
    return float(np.copysign(np.inf, step))
