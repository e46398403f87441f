"""What stops a window on each side, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Stepped
from workbench.define.outcomes import Measured, PassFail

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.decide.region import Box, Region
    from workbench.decide.sample import Sample
    from workbench.define.constraints import Constraint
    from workbench.define.outcomes import Outcome

BEYOND = 0.05  # of the range: how far outside a face we look
AT_EDGE = 0.005  # of the range: closer to the end than this is at the end
EDGE = "edge of the range tried"
EDGE_ASKED = "edge of the range asked for"
EDGE_OF_REGION = "edge of the region tried"
LOOKED_AT = 2048  # draws: enough to tell which outcome fails most


def stops(region: Region, box: Box, axis: int, *, side: int, sample: Sample) -> str:
    """Return what stops the box on one side (−1: low, +1: high) of an axis."""
    beyond = _beyond(region, box, axis, side=side)
    if beyond is None:
        low, high = region.wish.ends(region.axes[axis])
        is_asked = region.low[axis] <= low if side < 0 else region.high[axis] >= high
        named = any(name == region.axes[axis].name for name, _, _ in region.wish.within)
        return EDGE_ASKED if named and is_asked else EDGE
    moved = box.moved(axis, low=beyond) if side < 0 else box.moved(axis, high=beyond)
    blocking = region.blocking(moved)
    if blocking is not None:
        return reason_of(blocking)
    points = region.face(box, axis, beyond)
    if not region.is_inside(points).all():
        return EDGE_OF_REGION
    face = float(box.low[axis] if side < 0 else box.high[axis])
    inside = region.face(box, axis, face)
    return most_failing(region, points, sample.of_size(LOOKED_AT, 3), inside=inside)


def reason_of(constraint: Constraint) -> str:
    """Return why a constraint stands, in words."""
    return constraint.reason or "a combination that must not be run"


def most_failing(
    region: Region,
    points: NDArray[np.float64],
    sample: Sample,
    *,
    inside: NDArray[np.float64] | None = None,
) -> str:
    """Return the side of the outcome that fails most where the points (n, k) fail worst.

    In each draw the worst point is looked at; draws in which it is bad count. Those that are bad
    at a point `inside` (m, k) already say nothing of what is met beyond it, and do not count.
    """
    draws = sample.by_side(region.settings(points))
    total = sum((one.too_low + one.too_high for one in draws), np.zeros_like(draws[0].too_low))
    worst = total.argmax(axis=1)
    row = np.arange(worst.size)
    counted = total[row, worst] > 1 - sample.ask.share
    if inside is not None:
        held = sample.failing(region.settings(inside)).max(axis=1) <= 1 - sample.ask.share
        counted = counted & held if (counted & held).any() else counted
    if not counted.any():
        counted = total[row, worst] >= np.quantile(total[row, worst], sample.ask.confidence)
    best, words = -1.0, ""
    for fit, one in zip(sample.fits, draws, strict=True):
        for side, shares in ((-1, one.too_low), (1, one.too_high)):
            size = float(shares[row, worst][counted].sum(dtype=np.float64))
            if size > best:
                best, words = size, side_in_words(fit.outcome, side)
    return words


def side_in_words(outcome: Outcome, side: int) -> str:
    """Return the failing side of an outcome, such as "peel force below 22 N (lid comes off)".

    An outcome of two words fails by its one word: wetted “no”.
    """
    if isinstance(outcome, PassFail):
        return f"{outcome.name} “{outcome.fails}”"
    if not isinstance(outcome, Measured) or outcome.requirement is None:
        return outcome.name
    limit = outcome.requirement.low if side < 0 else outcome.requirement.high
    if limit is None:
        return outcome.name
    where = "below" if side < 0 else "above"
    why = outcome.too_low if side < 0 else outcome.too_high
    unit = f" {outcome.unit}" if outcome.unit else ""
    return f"{outcome.name} {where} {limit:g}{unit}{f' ({why})' if why else ''}"


def _beyond(region: Region, box: Box, axis: int, *, side: int) -> float | None:
    """Return a value beyond the face, or None if the face is at the end of what was tried."""
    factor = region.axes[axis]
    face = float(box.low[axis] if side < 0 else box.high[axis])
    end = float(region.low[axis] if side < 0 else region.high[axis])
    if isinstance(factor, Stepped):
        further = [s for s in factor.steps if (s - face) * side > 0 and (s - end) * side <= 0]
        return min(further, key=lambda s: abs(s - face)) if further else None
    span = factor.high - factor.low
    if abs(end - face) <= AT_EDGE * span:
        return None
    return face + side * min(BEYOND * span, abs(end - face))
