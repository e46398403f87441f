"""From a box to a window: rounded limits, set point, shares, and what stops each side."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.decide import notes
from workbench.decide.limiting import stops
from workbench.decide.region import Box
from workbench.decide.rounding import easy_value, rounded_inward, shrunk
from workbench.decide.sample import assured_share, judge
from workbench.decide.windows import Limit, Window
from workbench.define.factors import Stepped

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.decide.region import Region
    from workbench.decide.sample import Ask, Judged, Sample

FINAL = {1: 61, 2: 21, 3: 9, 4: 5}  # points an axis of the last check, by number of axes
TIE = 0.05  # of 1 − share: set points this close in assured share are equally good


def assembled(
    region: Region, box: Box, sample: Sample, *, check: Sample, ask: Ask
) -> Window | None:
    """Return the window of a box, limits rounded inwards and checked; None if no width is left."""
    rounded = rounded_inward(region, box)
    while rounded is not None:
        points = region.lattice(rounded, count=FINAL[len(region.axes)])
        judged = judge(check, region.settings(points), ask)
        holds = assured_share(judged.worst, ask) >= ask.share - 1e-6
        if holds and region.is_allowed(points).all():
            return _window(region, rounded, points, judged, sample=sample, ask=ask)
        rounded = shrunk(region, rounded)
    return None


def volume(region: Region, box: Box) -> float:
    """Return the product of the sides, each as a part of its range or number of steps."""
    return float(np.prod([_side(region, box, j) for j in range(len(region.axes))]))


def _side(region: Region, box: Box, j: int) -> float:
    axis = region.axes[j]
    if isinstance(axis, Stepped):
        return region.along(box, j, 0).size / len(axis.steps)
    return float((box.high[j] - box.low[j]) / (axis.high - axis.low))


def _window(
    region: Region,
    box: Box,
    points: NDArray[np.float64],
    judged: Judged,
    *,
    sample: Sample,
    ask: Ask,
) -> Window:
    point = _set_point(region, box, points, judged, ask)
    size = volume(region, box)
    limits = tuple(
        Limit(
            factor=axis,
            low=float(box.low[j]),
            high=float(box.high[j]),
            set_point=float(point[j]),
            limited_by_low=stops(region, box, j, side=-1, sample=sample, ask=ask),
            limited_by_high=stops(region, box, j, side=1, sample=sample, ask=ask),
        )
        for j, axis in enumerate(region.axes)
    )
    there = judge(sample, region.settings(point[None, :]), ask)
    return Window(
        limits=limits,
        levels=region.levels,
        share=ask.share,
        confidence=ask.confidence,
        chance_at_set_point=float(there.chance[0]),
        lowest_share=assured_share(judged.worst, ask),
        volume=size,
        model_form=sample.model_form,
        seed=sample.seed,
        n_draws=sample.n_draws,
        notes=notes.of_limits(limits, size),
    )


def _set_point(
    region: Region, box: Box, points: NDArray[np.float64], judged: Judged, ask: Ask
) -> NDArray[np.float64]:
    """Return the most robust point: highest assured share, ties to the middle, easy to set."""
    good = judged.assured >= judged.assured.max() - TIE * (1 - ask.share)
    middle = (box.low + box.high) / 2
    away = (((points - middle) / region.span) ** 2).sum(axis=1)
    best = points[np.flatnonzero(good)[np.argmin(away[good])]]
    return np.array(
        [
            easy_value(axis, float(value), float(low), float(high))
            for axis, value, low, high in zip(region.axes, best, box.low, box.high, strict=True)
        ]
    )
