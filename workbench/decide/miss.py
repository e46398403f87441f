"""No window: the point that comes nearest, and what would help most."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from workbench.decide.limiting import most_failing
from workbench.decide.sample import Ask, judge
from workbench.decide.windows import NearestMiss

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.decide.region import Region
    from workbench.decide.sample import Sample
    from workbench.decide.search import Ground
    from workbench.define.settings import Settings

LOOKED_AT = 64  # of the points with fewest bad draws in the first look
KNOWN = 0.5  # the share met in half of the draws: about what a perfectly known process would do
NEAR_EDGE = 0.1  # of the range


@dataclass(frozen=True, slots=True, kw_only=True)
class Miss:
    """The nearest miss and the advice for the next trial."""

    nearest: NearestMiss
    next_trial: str


def nearest_miss(region: Region, found: Ground, sample: Sample) -> Miss | None:
    """Return the grid point with the highest assured share, or None if no point may be used."""
    usable = np.flatnonzero(found.usable)
    if not usable.size:
        return None
    order = usable[np.argsort(found.screened[usable], kind="stable")]
    limit = found.screened[order[min(LOOKED_AT, order.size) - 1]]
    near = order[found.screened[order] <= limit]
    near = (
        near if near.size <= 4 * LOOKED_AT else _most_promising(region, found, sample, near=near)
    )
    judged = judge(sample, region.settings(found.points[near]))
    best = int(np.lexsort((judged.chance, judged.assured))[-1])
    point = found.points[near[best]]
    limited_by = most_failing(region, point[None, :], sample)
    values = region.settings(point[None, :]).as_dicts()[0]
    nearest = NearestMiss(
        settings=tuple(values.items()),
        chance=float(judged.chance[best]),
        assured_share=float(judged.assured[best]),
        limited_by=limited_by,
    )
    return Miss(nearest=nearest, next_trial=_advice(region, point, sample, limited_by=limited_by))


def _most_promising(
    region: Region, found: Ground, sample: Sample, *, near: NDArray[np.intp]
) -> NDArray[np.intp]:
    """Return the points with the highest chance, where bad draws tell nothing apart."""
    small = sample.of_size(64, 2)
    fails = np.concatenate(
        [
            small.failing(region.settings(found.points[some])).mean(axis=0)
            for some in np.array_split(near, max(1, near.size // 2000))
        ]
    )
    return near[np.argsort(fails, kind="stable")[: 4 * LOOKED_AT]]


def _advice(
    region: Region,
    point: NDArray[np.float64],
    sample: Sample,
    *,
    limited_by: str,
) -> str:
    """Say what stands between the best point and the promise."""
    settings = region.settings(point[None, :])
    if _share_at(sample, settings, sample.ask.confidence) >= sample.ask.share:
        return (
            "The best point holds, but nothing beside it: run more parts around it to widen what "
            "is assured, or hold the settings more closely."
        )
    straight = replace(sample, model_form=0.0)
    if _share_at(straight, settings, sample.ask.confidence) >= sample.ask.share:
        return (
            "If the model form is right the best point holds. Add runs at levels between those "
            "tried, around it, so that the form need not be assumed."
        )
    if _share_at(sample, settings, KNOWN) >= sample.ask.share:
        return (
            "As far as can be told the best point meets the share, but these runs are too few to "
            "promise it: add runs around it (repeats there tell the scatter)."
        )
    return f"{_move(region, point)}Reduce the scatter that leads to {limited_by}."


def _share_at(sample: Sample, settings: Settings, confidence: float) -> float:
    asked = replace(sample, ask=Ask(share=sample.ask.share, confidence=confidence))
    return float(judge(asked, settings).assured[0])


def _move(region: Region, point: NDArray[np.float64]) -> str:
    """Name the ranges at whose end the best point lies."""
    place = (point - region.low) / region.span
    room = (region.high - point) / region.span
    moves = [
        f"{axis.name} {'below' if low < NEAR_EDGE else 'above'} "
        f"{(axis.low if low < NEAR_EDGE else axis.high):g} {axis.unit}".rstrip()
        for axis, low, high in zip(region.axes, place, room, strict=True)
        if min(low, high) < NEAR_EDGE
    ]
    if not moves:
        return ""
    return (
        f"The best point lies at the end of the range tried: try {', '.join(moves)} if that is "
        "possible and safe. "
    )
