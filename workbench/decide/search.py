"""The widest box in which the promise holds: found on a grid, then refined."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.decide.region import Box, grid
from workbench.decide.sample import bad_counts, failed_bits
from workbench.define.factors import Stepped
from workbench.numerics.boxes import counts, largest_box

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.decide.region import Region
    from workbench.decide.sample import Ask, Sample

SCREENED, FEWER_SCREENED = 512, 256  # draws that show which grid points are hopeless
VERY_MANY_AXES = 5  # from so many axes on the fewer draws are used: the grid is large
SCREEN_SLACK = 4.0  # standard errors: a point at the limit is dropped with chance 3e-5
MANY_AXES, MANY_DRAWS = 4, 1024  # from so many axes on the grid is judged in fewer draws
LEAST_BAD = 50  # draws that stand for what is allowed to go wrong, however few are used
STEPS = (0.5, 0.25)  # of a grid cell, in which faces are moved outwards at last


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ground:
    """The grid of a region: its lines, which points (n,) may be used, and bad draws of each.

    `screened` (n,) counts bad draws of a first small sample; unusable points have all of them.
    """

    lines: tuple[NDArray[np.float64], ...]
    points: NDArray[np.float64]
    usable: NDArray[np.bool_]
    screened: NDArray[np.int64]

    @property
    def shape(self) -> tuple[int, ...]:
        """Number of lines on each axis."""
        return tuple(line.size for line in self.lines)


def ground(region: Region, sample: Sample) -> Ground:
    """Return the grid of a region with a first look at each point."""
    lines = region.lines()
    points = grid(lines)
    usable = region.is_allowed(points)
    n_screened = FEWER_SCREENED if len(lines) >= VERY_MANY_AXES else SCREENED
    screened = np.full(points.shape[0], n_screened, dtype=np.int64)
    if usable.any():
        small = sample.of_size(n_screened, 1)
        screened[usable] = bad_counts(small, region.settings(points[usable]))
    return Ground(lines=lines, points=points, usable=usable, screened=screened)


def widest_box(region: Region, found: Ground, sample: Sample) -> Box | None:
    """Return the widest box that holds in the draws, or None.

    The search is exact on the grid (with more than four axes it may end without proof); then the
    faces move outwards between its lines.
    """
    sample = _for_search(region, sample)
    n_screened = FEWER_SCREENED if len(found.lines) >= VERY_MANY_AXES else SCREENED
    hopeful = found.usable & (found.screened <= _hopeless(sample.ask, n_screened))
    if not hopeful.any():
        return None
    bits = np.full((found.usable.size, -(-sample.n_draws // 64)), ~np.uint64(0))
    bits[hopeful] = failed_bits(sample, region.settings(found.points[hopeful]))
    bits = bits.reshape(*found.shape, -1)
    best = largest_box(
        bits,
        hopeful.reshape(found.shape),
        budget=sample.budget,
        widths=[_cells(line, axis_range(region, j)) for j, line in enumerate(found.lines)],
        weights=region.weights,
    )
    if best is None:
        return None
    ends = list(zip(found.lines, best.first, best.last, strict=True))
    box = Box(
        low=np.array([line[first] for line, first, _ in ends]),
        high=np.array([line[last] for line, _, last in ends]),
        is_proved=best.is_proved,
    )
    inside = tuple(slice(a, b + 1) for a, b in zip(best.first, best.last, strict=True))
    bad = np.bitwise_or.reduce(bits[inside].reshape(-1, bits.shape[-1]), axis=0)
    return _refined(region, box, bad, sample=sample)


def axis_range(region: Region, j: int) -> NDArray[np.float64]:
    """Return the ends of what an axis can be set to, or its steps."""
    axis = region.axes[j]
    return np.array(axis.steps) if isinstance(axis, Stepped) else np.array([axis.low, axis.high])


def _for_search(region: Region, sample: Sample) -> Sample:
    """Return fewer draws where the grid is large: the box is judged in fresh ones anyway."""
    fewer = max(MANY_DRAWS, int(np.ceil(LEAST_BAD / (1 - sample.ask.confidence))))
    if len(region.axes) < MANY_AXES or sample.n_draws <= fewer:
        return sample
    return sample.of_size(fewer, 5)


def _hopeless(ask: Ask, n_screened: int) -> float:
    expected = (1 - ask.confidence) * n_screened
    return float(expected + SCREEN_SLACK * np.sqrt(expected * ask.confidence))


def _cells(line: NDArray[np.float64], values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the part of its axis for which each grid line stands: halfway to its neighbours.

    Each step of a stepped factor is one of its number of steps.
    """
    if values.size > 2 or line.size == 1:
        return np.full(line.size, 1 / values.size)
    middles = np.concatenate([line[:1], (line[1:] + line[:-1]) / 2, line[-1:]])
    return np.asarray(np.diff(middles) / (values[-1] - values[0]))


def _refined(region: Region, box: Box, bad: NDArray[np.uint64], *, sample: Sample) -> Box:
    """Return the box with its faces moved outwards between grid lines as far as the draws bear."""
    gaps = [
        (high - low) / max(line.size - 1, 1)
        for low, high, line in zip(region.low, region.high, region.lines(), strict=True)
    ]
    for step in STEPS:
        for axis, factor in enumerate(region.axes):
            if isinstance(factor, Stepped):
                continue
            for side in (-1, 1):
                grown = _grown(region, box, axis, by=side * step * gaps[axis])
                if grown is None:
                    continue
                face = grown.low[axis] if side < 0 else grown.high[axis]
                points = region.face(grown, axis, float(face))
                if not region.is_allowed(points).all():
                    continue
                new = failed_bits(sample, region.settings(points))
                both = bad | np.bitwise_or.reduce(new, axis=0)
                if int(counts(both)) <= sample.budget:
                    box, bad = grown, both
    return box


def _grown(region: Region, box: Box, axis: int, *, by: float) -> Box | None:
    """Return the box grown on one side, within the range tried and the constraints, or None."""
    if by < 0:
        grown = box.moved(axis, low=max(box.low[axis] + by, float(region.low[axis])))
    else:
        grown = box.moved(axis, high=min(box.high[axis] + by, float(region.high[axis])))
    same = (grown.low == box.low).all() and (grown.high == box.high).all()
    return None if same or region.blocking(grown) is not None else grown
