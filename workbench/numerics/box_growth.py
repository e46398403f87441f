"""Large boxes on a grid of bit sets, grown face by face: found fast, not proved the largest.

Greedy growth from many points, each result then shrunk at random and grown again (iterated
local search: Lourenço, Martin and Stützle 2003, in Handbook of Metaheuristics, 320-353).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.numerics.bit_grid import counts

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from workbench.numerics.bit_grid import BitGrid

STREAM = 6  # starts the growth's own stream: the box depends on the bit sets alone
FREE = 0.05  # of the budget, what a step may cost before its price counts
SHAKE = 0.3  # sd of the log of a step's worth, so that growth does not go one way only
BEST_STARTS = 4  # growth starts in this part of the points, those with fewest failing draws


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Grown:
    """A box, first and last line (k,) on each axis, the draws (words,) failing in it, its size."""

    first: NDArray[np.intp]
    last: NDArray[np.intp]
    bad: NDArray[np.uint64]
    size: float


def grown_box(grid: BitGrid, *, starts: int, kicks: int) -> Grown:
    """Return the largest box of all starts and kicks; some point of the grid has to be able."""
    rng = np.random.default_rng(STREAM)
    places = np.argwhere(grid.able)
    order = np.argsort(counts(grid.bits[grid.able]), kind="stable")
    good = places[order[: max(1, order.size // BEST_STARTS)]]
    found = [
        _settled(grid, good[rng.integers(len(good))], rng, kicks=kicks) for _ in range(starts)
    ]
    return max(found, key=lambda one: one.size)


def _settled(
    grid: BitGrid, point: NDArray[np.intp], rng: np.random.Generator, *, kicks: int
) -> Grown:
    best = _grow(grid, _box(grid, point, point), rng)
    for _ in range(kicks):
        again = _grow(grid, _shrunk(grid, best, rng), rng)
        best = again if again.size >= best.size else best
    return best


def _box(grid: BitGrid, first: NDArray[np.intp], last: NDArray[np.intp]) -> Grown:
    size = float(grid.size(first, last))
    return Grown(first=first, last=last, bad=grid.union(first, last), size=size)


def _shrunk(grid: BitGrid, box: Grown, rng: np.random.Generator) -> Grown:
    """Return the box with one to three of its faces moved in, by up to half of the side."""
    first, last = box.first.copy(), box.last.copy()
    for _ in range(rng.integers(1, 4)):
        axis = rng.integers(grid.n_axes)
        lines = last[axis] - first[axis]
        if lines < 1:
            continue
        by = rng.integers(1, max(2, lines // 2 + 1))
        if rng.random() < 0.5:
            first[axis] += by
        else:
            last[axis] -= by
    return _box(grid, first, last)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Step:
    """One face moved out by a line: which end (0, 1) of which axis, what it costs and gains."""

    axis: int
    end: int
    bad: NDArray[np.uint64]
    gain: float


def _grow(grid: BitGrid, box: Grown, rng: np.random.Generator) -> Grown:
    """Return the box grown until no face can move; each step gains most size for new failures."""
    first, last, bad = box.first.copy(), box.last.copy(), box.bad
    # A face that cannot move now cannot move later: failures only add up as a box grows.
    stuck = np.zeros((grid.n_axes, 2), dtype=bool)
    while True:
        spent, best, chosen = int(counts(bad)), -1.0, None
        for step in _steps(grid, Grown(first=first, last=last, bad=bad, size=0.0), stuck):
            cost = int(counts(step.bad)) - spent + FREE * grid.budget + 1
            worth = step.gain / cost * float(np.exp(SHAKE * rng.standard_normal()))
            if worth > best:
                best, chosen = worth, step
        if chosen is None:
            return Grown(first=first, last=last, bad=bad, size=float(grid.size(first, last)))
        bad = chosen.bad
        if chosen.end:
            last[chosen.axis] += 1
        else:
            first[chosen.axis] -= 1


def _steps(grid: BitGrid, box: Grown, stuck: NDArray[np.bool_]) -> Iterator[_Step]:
    """Yield the steps that keep the budget; note in `stuck` (k, 2) the faces that cannot move."""
    for axis, end in np.argwhere(~stuck):
        line = int(box.last[axis]) + 1 if end else int(box.first[axis]) - 1
        if not 0 <= line < grid.able.shape[axis]:
            stuck[axis, end] = True
            continue
        first, last = box.first.copy(), box.last.copy()
        first[axis] = last[axis] = line
        bad = box.bad | grid.union(first, last)
        if int(counts(bad)) > grid.budget:
            stuck[axis, end] = True
            continue
        edge = grid.edges[axis]
        side = edge[box.last[axis] + 1] - edge[box.first[axis]]
        yield _Step(
            axis=int(axis),
            end=int(end),
            bad=bad,
            gain=float(grid.weights[axis] * np.log1p((edge[line + 1] - edge[line]) / side)),
        )
