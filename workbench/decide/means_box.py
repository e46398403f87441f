"""What people do without a window: the box in which predicted means meet the limits."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.decide.region import grid, regions
from workbench.decide.search import axis_range
from workbench.decide.windows import Limit
from workbench.define.outcomes import Graded, PassFail, is_judged
from workbench.errors import Unavailable
from workbench.numerics.boxes import largest_box, packed

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from workbench.decide.region import Region
    from workbench.define.constraints import Constraint
    from workbench.define.settings import Settings
    from workbench.fit.faces import Fit

LINES = {1: 81, 2: 41, 3: 21, 4: 13}  # grid lines an axis, by number of axes


@dataclass(frozen=True, slots=True, kw_only=True)
class MeansBox:
    """The widest box in which every predicted mean meets its limits; it promises nothing.

    Shown beside a window for comparison only: it looks at no scatter, no setting error, and not
    at how unsure the means are. `volume` is the product of the sides, each as a part of its
    factor's range.
    """

    limits: tuple[Limit, ...]
    levels: tuple[tuple[str, str], ...]
    volume: float


def means_box(
    fits: Sequence[Fit], *, share: float, constraints: tuple[Constraint, ...] = ()
) -> MeansBox | Unavailable:
    """Return the box of predicted means, for the level combination in which it is widest.

    Where an outcome is a word or a grade its mean is a share, which must reach `share`. Sides are
    read off an even grid over the range tried.
    """
    judged = tuple(fit for fit in fits if is_judged(fit.outcome))
    found = [_widest(place, judged, share) for place in regions(judged, constraints)]
    boxes = [one for one in found if isinstance(one, MeansBox)]
    if not boxes:
        return Unavailable(reason="nowhere on the grid do all predicted means meet their limits")
    return max(boxes, key=lambda one: one.volume)


def _widest(region: Region, fits: tuple[Fit, ...], share: float) -> MeansBox | Unavailable:
    if len(region.axes) not in LINES:
        return Unavailable(reason="the box of means is sought in up to four numeric factors")
    count = LINES[len(region.axes)]
    lines = [
        np.linspace(low, high, count) for low, high in zip(region.low, region.high, strict=True)
    ]
    settings = region.settings(grid(tuple(lines)))
    good = np.ones(len(settings), dtype=bool)
    for fit in fits:
        good &= _meets(fit, settings, share)
    shape = (count,) * len(lines)
    best = largest_box(
        packed(~good[None, :]).reshape(*shape, -1),
        good.reshape(shape),
        budget=0,
        widths=[_widths(line, axis_range(region, j)) for j, line in enumerate(lines)],
    )
    if best is None:
        return Unavailable(reason="no point of the grid meets every limit")
    ends = zip(region.axes, lines, best.first, best.last, strict=True)
    limits = tuple(
        Limit(
            factor=factor,
            low=float(line[first]),
            high=float(line[last]),
            set_point=float((line[first] + line[last]) / 2),
            limited_by_low="",
            limited_by_high="",
        )
        for factor, line, first, last in ends
    )
    return MeansBox(limits=limits, levels=region.levels, volume=float(best.size))


def _meets(fit: Fit, settings: Settings, share: float) -> NDArray[np.bool_]:
    found = fit.predict(settings, confidence=0.95)
    if isinstance(found, Unavailable):
        return np.zeros(len(settings), dtype=bool)
    if isinstance(fit.outcome, PassFail | Graded):
        return np.asarray(found.mean >= share)
    limits = fit.outcome.requirement
    low = -np.inf if limits is None or limits.low is None else limits.low
    high = np.inf if limits is None or limits.high is None else limits.high
    return np.asarray((found.mean >= low) & (found.mean <= high))


def _widths(line: NDArray[np.float64], values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the part of the range for which each grid line stands."""
    widths = np.full(line.size, (line[1] - line[0]) / (values[-1] - values[0]))
    widths[[0, -1]] /= 2
    return np.asarray(widths)
