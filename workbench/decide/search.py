"""The widest box in which the promise holds: found on a grid, judged again, then refined."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.decide.region import CHECKED, Box, grid
from workbench.decide.sample import bad_counts, failed_bits
from workbench.define.factors import Stepped
from workbench.numerics.boxes import counts, largest_box

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.decide.region import Region
    from workbench.decide.sample import Ask, Sample

SCREENED = 512  # draws that show which grid points are hopeless
SCREEN_SLACK = 4.0  # standard errors: a point at the limit is dropped with chance 3e-5
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


def ground(region: Region, sample: Sample, ask: Ask) -> Ground:
    """Return the grid of a region with a first look at each point."""
    lines = region.lines()
    points = grid(lines)
    usable = region.is_allowed(points)
    screened = np.full(points.shape[0], SCREENED, dtype=np.int64)
    if usable.any():
        small = sample.of_size(SCREENED, 1)
        screened[usable] = bad_counts(small, region.settings(points[usable]), ask)
    return Ground(lines=lines, points=points, usable=usable, screened=screened)


def widest_box(
    region: Region, found: Ground, sample: Sample, *, check: Sample, ask: Ask
) -> Box | None:
    """Return the widest box that holds in the draws of `check`, or None.

    The search in the draws of `sample` is exact on the grid; fresh draws then judge the box, as
    a box chosen from draws flatters itself in them, and faces move until it holds.
    """
    hopeful = found.usable & (found.screened <= _hopeless(ask))
    if not hopeful.any():
        return None
    bits = np.full((found.usable.size, -(-sample.n_draws // 64)), ~np.uint64(0))
    bits[hopeful] = failed_bits(sample, region.settings(found.points[hopeful]), ask)
    shape = found.shape
    best = largest_box(
        bits.reshape(*shape, -1),
        hopeful.reshape(shape),
        budget=ask.budget(sample.n_draws),
        widths=[_cells(line, axis_range(region, j)) for j, line in enumerate(found.lines)],
    )
    if best is None:
        return None
    ends = tuple(
        line[a : b + 1] for line, a, b in zip(found.lines, best.first, best.last, strict=True)
    )
    return _held(region, ends, check, ask)


def axis_range(region: Region, j: int) -> NDArray[np.float64]:
    """Return the ends of what an axis can be set to, or its steps."""
    axis = region.axes[j]
    return np.array(axis.steps) if isinstance(axis, Stepped) else np.array([axis.low, axis.high])


def _hopeless(ask: Ask) -> float:
    expected = (1 - ask.confidence) * SCREENED
    return float(expected + SCREEN_SLACK * np.sqrt(expected * ask.confidence))


def _cells(line: NDArray[np.float64], values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the part of its axis for which each grid line stands: halfway to its neighbours.

    Each step of a stepped factor is one of its number of steps.
    """
    if values.size > 2 or line.size == 1:
        return np.full(line.size, 1 / values.size)
    middles = np.concatenate([line[:1], (line[1:] + line[:-1]) / 2, line[-1:]])
    return np.diff(middles) / (values[-1] - values[0])


def _held(
    region: Region, lines: tuple[NDArray[np.float64], ...], check: Sample, ask: Ask
) -> Box | None:
    """Return the box after taking grid lines off its worst faces until fresh draws bear it."""
    while True:
        chosen = tuple(_outer(line, CHECKED[len(lines)]) for line in lines)
        bits = failed_bits(check, region.settings(grid(chosen)), ask)
        whole = bits.reshape(*(one.size for one in chosen), -1)
        cut = _cut_until_held(whole, lines, chosen, budget=ask.budget(check.n_draws))
        if cut is None:
            return None
        if cut.holds:
            bad = np.bitwise_or.reduce(cut.bits.reshape(-1, bits.shape[1]), axis=0)
            box = Box(
                low=np.array([line[0] for line in cut.lines]),
                high=np.array([line[-1] for line in cut.lines]),
            )
            return _refined(region, box, bad, check=check, ask=ask)
        lines = cut.lines


def _outer(line: NDArray[np.float64], count: int) -> NDArray[np.float64]:
    """Return at most `count` of the lines: the outer ones on both sides and the middle."""
    if line.size <= count:
        return line
    each = count // 2
    return np.concatenate([line[:each], line[[line.size // 2]], line[-each:]])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Cut:
    """All lines left on each axis, bits of the chosen ones, and whether the box holds."""

    lines: tuple[NDArray[np.float64], ...]
    bits: NDArray[np.uint64]
    holds: bool


def _cut_until_held(
    bits: NDArray[np.uint64],
    lines: tuple[NDArray[np.float64], ...],
    chosen: tuple[NDArray[np.float64], ...],
    *,
    budget: int,
) -> _Cut | None:
    """Return the box cut back; None if nothing is left to cut.

    The face goes whose loss saves most bad draws for the size it costs. Where lines of a side
    were thinned out and its outer ones are used up, the caller has to look again.
    """
    start = tuple(line.size for line in lines)
    while (now := _failing(bits)) > budget:
        lost = [-np.log1p(-1 / line.size) if line.size > 1 else np.inf for line in lines]
        cuts = [
            (_saved(bits, axis, side, now=now) / lost[axis], axis, side)
            for axis in range(len(lines))
            for side in (0, -1)
            if chosen[axis].size > 1 and _is_outer(chosen[axis], lines[axis], side)
        ]
        if not cuts:
            looked_again = tuple(line.size for line in lines) != start
            return _Cut(lines=lines, bits=bits, holds=False) if looked_again else None
        _, axis, side = max(cuts, key=lambda cut: (cut[0], -cut[1], cut[2]))
        keep = slice(1, None) if side == 0 else slice(None, -1)
        bits = bits[(slice(None),) * axis + (keep,)]
        lines = _replaced(lines, axis, lines[axis][keep])
        chosen = _replaced(chosen, axis, chosen[axis][keep])
    return _Cut(lines=lines, bits=bits, holds=True)


def _is_outer(chosen: NDArray[np.float64], line: NDArray[np.float64], side: int) -> bool:
    """Return whether the line next to the end on this side is among the chosen ones."""
    inner = 1 if side == 0 else -2
    return bool(chosen[inner] == line[inner])


def _saved(bits: NDArray[np.uint64], axis: int, side: int, *, now: int) -> int:
    keep = slice(1, None) if side == 0 else slice(None, -1)
    return now - _failing(bits[(slice(None),) * axis + (keep,)])


def _failing(bits: NDArray[np.uint64]) -> int:
    return int(counts(np.bitwise_or.reduce(bits.reshape(-1, bits.shape[-1]), axis=0)))


def _replaced(
    lines: tuple[NDArray[np.float64], ...], axis: int, new: NDArray[np.float64]
) -> tuple[NDArray[np.float64], ...]:
    return (*lines[:axis], new, *lines[axis + 1 :])


def _refined(
    region: Region, box: Box, bad: NDArray[np.uint64], *, check: Sample, ask: Ask
) -> Box:
    """Return the box with its faces moved outwards between grid lines as far as they bear."""
    line_gap = [
        (high - low) / max(line.size - 1, 1)
        for low, high, line in zip(region.low, region.high, region.lines(), strict=True)
    ]
    for step in STEPS:
        for axis, factor in enumerate(region.axes):
            if isinstance(factor, Stepped):
                continue
            for side in (-1, 1):
                grown = _grown(region, box, axis, side * step * line_gap[axis])
                if grown is None:
                    continue
                face = grown.low[axis] if side < 0 else grown.high[axis]
                points = region.face(grown, axis, float(face))
                if not region.is_allowed(points).all():
                    continue
                new = failed_bits(check, region.settings(points), ask)
                both = bad | np.bitwise_or.reduce(new, axis=0)
                if int(counts(both)) <= ask.budget(check.n_draws):
                    box, bad = grown, both
    return box


def _grown(region: Region, box: Box, axis: int, by: float) -> Box | None:
    """Return the box grown on one side, within the range tried and the constraints, or None."""
    if by < 0:
        grown = box.moved(axis, low=max(box.low[axis] + by, float(region.low[axis])))
    else:
        grown = box.moved(axis, high=min(box.high[axis] + by, float(region.high[axis])))
    same = (grown.low == box.low).all() and (grown.high == box.high).all()
    return None if same or region.blocking(grown) is not None else grown
