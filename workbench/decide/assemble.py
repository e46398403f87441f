"""From a box to a window: rounded limits, set point, shares, and what stops each side."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from workbench.decide import notes
from workbench.decide.limiting import stops
from workbench.decide.region import Box
from workbench.decide.rounding import easy_value, resolution, rounded_inward
from workbench.decide.sample import assured_share, failed_bits, judge
from workbench.decide.windows import Limit, Window
from workbench.decide.wishes import IN_RANGE, IN_SETTING_ERROR
from workbench.define.factors import Stepped
from workbench.numerics.boxes import counts

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.decide.region import Region
    from workbench.decide.sample import Judged, Sample

TIE = 0.05  # of 1 − share: set points this close in assured share are equally good
OVERSHOOT = 1.15  # how much further than a straight line says a failing face is moved
LEAST_WORTH = 1e-6  # of a face whose side has no weight in the size
LEAST_MOVE = 0.1  # of the gap between two points of the lattice


def assembled(region: Region, box: Box, sample: Sample, *, check: Sample) -> Window | None:
    """Return the window of a box after fresh draws bear it; None if no width is left.

    A box chosen from draws flatters itself in them, so its limits are rounded inwards, judged in
    the draws of `check`, and its worst face moved in until they bear it.
    """
    rounded = rounded_inward(region, box)
    while rounded is not None:
        points = region.lattice(rounded)
        bits = failed_bits(check, region.settings(points))
        if bad_anywhere(bits) <= check.budget and region.is_allowed(points).all():
            judged = judge(check, region.settings(points))
            return _window(region, rounded, sample, seen=_Seen(points=points, judged=judged))
        rounded = rounded_inward(region, _moved_in(region, rounded, bits, budget=check.budget))
    return None


def bad_anywhere(bits: NDArray[np.uint64]) -> int:
    """Return how many draws are bad at any of the points (…, words)."""
    return int(counts(np.bitwise_or.reduce(bits.reshape(-1, bits.shape[-1]), axis=0)))


def _moved_in(region: Region, box: Box, bits: NDArray[np.uint64], *, budget: int) -> Box:
    """Return the box with the face moved in whose loss saves most bad draws for its size."""
    sides = region.sides(box)
    bits = bits.reshape(*(side.size for side in sides), -1)
    excess = max(bad_anywhere(bits) - budget, 1)
    best, best_value, chosen = box, -1.0, False
    for axis, side in enumerate(sides):
        if side.size < 2:
            continue
        for end in (0, -1):
            layer = slice(1, None) if end == 0 else slice(None, -1)
            saved = bad_anywhere(bits) - bad_anywhere(bits[(slice(None),) * axis + (layer,)])
            value = saved / max(-np.log1p(-1 / side.size) * region.weights[axis], LEAST_WORTH)
            if value > best_value:
                part = np.clip(OVERSHOOT * excess / max(saved, 1), LEAST_MOVE, 1.0)
                best = _face_moved(region, box, axis, side=side, end=end, part=float(part))
                best_value, chosen = value, True
    return best if chosen else Box(low=box.high, high=box.low)


def _face_moved(
    region: Region, box: Box, axis: int, *, side: NDArray[np.float64], end: int, part: float
) -> Box:
    """Return the box with one face moved in by a part of the gap to the next point (or a step)."""
    neighbour = side[1] if end == 0 else side[-2]
    factor = region.axes[axis]
    if isinstance(factor, Stepped):
        moved = float(neighbour)
    else:
        gap = float(neighbour - side[end])
        least = resolution(factor)
        moved = float(side[end]) + np.sign(gap) * max(abs(gap) * part, least)
    return box.moved(axis, low=moved) if end == 0 else box.moved(axis, high=moved)


def volume(region: Region, box: Box) -> float:
    """Return the product of the sides in the unit wished, each to the power of its weight."""
    sides = np.array([_side(region, box, j) for j in range(len(region.axes))])
    return float(np.prod(sides ** np.array(region.weights)))


def _side(region: Region, box: Box, j: int) -> float:
    """Return a side as a part of its range or number of steps, or in setting errors."""
    axis = region.axes[j]
    if isinstance(axis, Stepped):
        return region.along(box, j, 0).size / len(axis.steps)
    whole = axis.high - axis.low
    if region.wish.size_in == IN_SETTING_ERROR and axis.setting_sd:
        whole = axis.setting_sd
    return float((box.high[j] - box.low[j]) / whole)


def _part_of_range(region: Region, box: Box) -> float:
    """Return the product of the sides as parts of their ranges, whatever was wished."""
    plain = replace(region, wish=replace(region.wish, weights=(), size_in=IN_RANGE))
    return volume(plain, box)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Seen:
    """The lattice (n, k) of a box and how its points fared."""

    points: NDArray[np.float64]
    judged: Judged


def _window(region: Region, box: Box, sample: Sample, *, seen: _Seen) -> Window:
    point = _set_point(region, box, seen, tie=TIE * (1 - sample.ask.share))
    limits = tuple(
        Limit(
            factor=axis,
            low=float(box.low[j]),
            high=float(box.high[j]),
            set_point=float(point[j]),
            limited_by_low=stops(region, box, j, side=-1, sample=sample),
            limited_by_high=stops(region, box, j, side=1, sample=sample),
        )
        for j, axis in enumerate(region.axes)
    )
    there = judge(sample, region.settings(point[None, :]))
    return Window(
        limits=limits,
        levels=region.levels,
        share=sample.ask.share,
        confidence=sample.ask.confidence,
        chance_at_set_point=float(there.chance[0]),
        lowest_share=assured_share(seen.judged.worst, sample.ask),
        volume=volume(region, box),
        model_form=sample.model_form,
        seed=sample.seed,
        n_draws=sample.n_draws,
        notes=notes.of_limits(limits, _part_of_range(region, box))
        + _bound_note(region, seen, sample),
        held=region.held,
        size_in=region.wish.size_in,
    )


def _bound_note(region: Region, seen: _Seen, sample: Sample) -> tuple[str, ...]:
    """Return what adding up the shares that fail can cost at most, at the worst point.

    However outcomes hang together on a part, the share that fails lies between the largest of
    theirs and their sum (Fréchet 1951, Annales de l'Université de Lyon A 14, 53-77).
    """
    if len(sample.fits) < 2:
        return ()
    worst = seen.points[[int(seen.judged.assured.argmin())]]
    fails = np.stack(
        [(one.too_low + one.too_high)[:, 0] for one in sample.by_side(region.settings(worst))]
    )
    return notes.of_bound(
        added=assured_share(fails.sum(axis=0), sample.ask),
        largest=assured_share(fails.max(axis=0), sample.ask),
    )


def _set_point(region: Region, box: Box, seen: _Seen, *, tie: float) -> NDArray[np.float64]:
    """Return the most robust point: highest assured share, ties to the middle, easy to set."""
    good = seen.judged.assured >= seen.judged.assured.max() - tie
    middle = (box.low + box.high) / 2
    away = (((seen.points - middle) / region.span) ** 2).sum(axis=1)
    best = seen.points[np.flatnonzero(good)[np.argmin(away[good])]]
    sides = zip(region.axes, best, box.low, box.high, strict=True)
    return np.array(
        [
            easy_value(axis, float(value), low=float(low), high=float(high))
            for axis, value, low, high in sides
        ]
    )
