"""No window: the point that comes nearest, and what would help most."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from workbench.decide.limiting import most_failing
from workbench.decide.sample import Ask, judge
from workbench.decide.windows import NearestMiss
from workbench.define.outcomes import Measured
from workbench.errors import Unavailable

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.decide.region import Region
    from workbench.decide.sample import Sample
    from workbench.decide.search import Ground
    from workbench.define.settings import Settings

LOOKED_AT = 64  # of the points with fewest bad draws in the first look
KNOWN = 0.5  # the share met in half of the draws: about what a perfectly known process would do
FEW_POINTS, FEW_DRAWS = 1500, 64  # that show whether requirements contradict each other
OUT_OF_REACH = 1e-3  # chance below which means, not shares, say which point comes nearest
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
    if judged.chance[best] < OUT_OF_REACH:
        point, best = _closest_by_mean(region, found.points[usable]), 0
        judged = judge(sample, region.settings(point[None, :]))
    limited_by = most_failing(region, point[None, :], sample)
    values = region.settings(point[None, :]).as_dicts()[0]
    nearest = NearestMiss(
        settings=tuple(values.items()),
        chance=float(judged.chance[best]),
        assured_share=float(judged.assured[best]),
        limited_by=limited_by,
    )
    advice = _advice(region, point, sample, limited_by=limited_by)
    return Miss(nearest=nearest, next_trial=_pulled_apart(region, found, sample) or advice)


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


def _closest_by_mean(region: Region, points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the point (k,) whose means miss the requirements least, where no part meets them.

    Each miss is counted in the spread of that mean over the points (n, k).
    """
    settings = region.settings(points)
    missed = np.zeros(len(settings))
    for fit in region.fits:
        limits = fit.outcome.requirement if isinstance(fit.outcome, Measured) else None
        seen = fit.predict(settings, confidence=0.95)
        if limits is None or isinstance(seen, Unavailable):
            continue
        below = 0.0 if limits.low is None else np.maximum(limits.low - seen.mean, 0)
        above = 0.0 if limits.high is None else np.maximum(seen.mean - limits.high, 0)
        spread = float(np.ptp(seen.mean)) or 1.0
        missed += (below + above) / spread
    return np.asarray(points[missed.argmin()])


def _pulled_apart(region: Region, found: Ground, sample: Sample) -> str:
    """Say which requirements contradict each other: each is met alone, the two nowhere at once.

    Judged by the share averaged over what is not known, so that too few runs are not taken for a
    contradiction.
    """
    usable = np.flatnonzero(found.usable)
    some = usable[:: max(1, usable.size // FEW_POINTS)]
    sides = sample.of_size(FEW_DRAWS, 2).by_side(region.settings(found.points[some]))
    fails = np.array([(one.too_low + one.too_high).mean(axis=0) for one in sides])
    allowed = 1 - sample.ask.share
    alone = (fails.min(axis=1) <= allowed).all()
    if len(sides) < 2 or not alone or fails.sum(axis=0).min() <= allowed:
        return ""
    there = fails[:, fails.sum(axis=0).argmin()]
    first, second = (sample.fits[i].outcome.name for i in np.argsort(-there, kind="stable")[:2])
    return (
        "Every requirement can be met alone in the range tried, but not all at once: "
        f"{first} and {second} pull apart. Ease one of the two, or bring in a factor that moves "
        "one of them and not the other."
    )


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
    if float(judge(sample, settings).chance[0]) < OUT_OF_REACH:
        return (
            f"{_move(region, point)}Less scatter would not help: the mean itself does not reach "
            f"the requirement ({limited_by})."
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
