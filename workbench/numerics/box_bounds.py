"""The largest box on a grid of bit sets, by branch and bound over sets of boxes.

A set of boxes is what its lowest and highest lines may be. All of its boxes hold its core (from
the highest low line to the lowest high line) and lie within its hull. A set whose core fails
more draws than the budget, or whose hull is smaller than the best box known, holds no better
box; any other is halved (Land and Doig 1960, Econometrica 28, 497-520; for boxes in images
Lampert, Blaschko and Hofmann 2008, IEEE Conference on Computer Vision and Pattern Recognition).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from workbench.numerics.bit_grid import counts

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.numerics.bit_grid import BitGrid
    from workbench.numerics.box_growth import Grown

CHUNK = 4096  # sets looked at together
WORDS = 1 << 19  # of bit sets held at once while cores are judged: 4 MB
TIE = 1e-12  # sizes this close are one size
LOWEST, HIGHEST = (0, 2), (1, 3)  # rows of a set: low line from, to; high line from, to


@dataclass(frozen=True, slots=True, kw_only=True)
class GridBox:
    """First and last grid line of a box on each axis, both ends inside, and its size.

    `is_proved` says that no larger box exists on the grid; else the search was cut short.
    """

    first: tuple[int, ...]
    last: tuple[int, ...]
    size: float
    is_proved: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class _Found:
    first: tuple[int, ...]
    last: tuple[int, ...]
    size: float
    failing: int

    def beats(self, other: _Found) -> bool:
        """Return whether it is larger, or fails fewer draws, or comes first."""
        if abs(self.size - other.size) > TIE * max(self.size, other.size):
            return self.size > other.size
        return (self.failing, self.first) < (other.failing, other.first)


def bounded_box(grid: BitGrid, start: Grown, *, most: int) -> GridBox:
    """Return the largest box, or the best known after looking at `most` sets of boxes.

    Of boxes of one size that in which the fewest draws fail is taken, then the first.
    """
    best = _found(grid, start.first, start.last)
    ends = np.array([[0] * grid.n_axes, [n - 1 for n in grid.able.shape]])
    open_sets = [np.asarray(ends[[0, 1, 0, 1]][None], dtype=np.intp)]
    hopeless = _Hopeless(grid)
    looked_at = 0
    while open_sets and looked_at < most:
        sets = _promising(grid, open_sets.pop(), best.size)
        looked_at += len(sets)
        sets = sets[~hopeless.cores(sets)]
        single = (sets[:, LOWEST] == sets[:, HIGHEST]).all(axis=(1, 2))
        for one in sets[single]:
            known = _found(grid, one[0], one[2])
            best = known if known.failing <= grid.budget and known.beats(best) else best
        halves = _halved(grid, sets[~single])
        open_sets += [halves[i : i + CHUNK] for i in range(0, len(halves), CHUNK)]
    return GridBox(first=best.first, last=best.last, size=best.size, is_proved=not open_sets)


def _found(grid: BitGrid, first: NDArray[np.intp], last: NDArray[np.intp]) -> _Found:
    return _Found(
        first=tuple(first.tolist()),
        last=tuple(last.tolist()),
        size=float(grid.size(first, last)),
        failing=int(counts(grid.union(first, last))),
    )


def _promising(grid: BitGrid, sets: NDArray[np.intp], size: float) -> NDArray[np.intp]:
    """Return the sets (m, 4, k) whose hull is no smaller than a size, ends put in order."""
    whole = sets.copy()
    whole[:, 2] = np.maximum(sets[:, 2], sets[:, 0])
    whole[:, 1] = np.minimum(sets[:, 1], sets[:, 3])
    return whole[grid.size(whole[:, 0], whole[:, 3]) >= size * (1 - TIE)]


def _halved(grid: BitGrid, sets: NDArray[np.intp]) -> NDArray[np.intp]:
    """Return the sets cut in two where the hull gains most over the least it can be."""
    k, rows = grid.n_axes, np.arange(len(sets))
    hull = np.maximum(sets[:, 3] - sets[:, 0] + 1.0, 1.0)
    slack = np.hstack([(sets[:, 1] - sets[:, 0]) / hull, (sets[:, 3] - sets[:, 2]) / hull])
    chosen = slack.argmax(axis=1)
    axis, row = chosen % k, 2 * (chosen // k)
    middle = (sets[rows, row, axis] + sets[rows, row + 1, axis]) // 2
    lower, upper = sets.copy(), sets.copy()
    lower[rows, row + 1, axis] = middle
    upper[rows, row, axis] = middle + 1
    return np.concatenate([lower, upper])


class _Hopeless:
    """Which cores fail too many draws: by the points of no use in them, then by their corners.

    The draws that fail at the corners and the middle of a core are some of those that fail in
    it, so too many there are too many; where they are few enough nothing is said.
    """

    def __init__(self, grid: BitGrid) -> None:
        self._grid = grid
        shape = grid.able.shape
        self._bits = grid.bits.reshape(-1, grid.bits.shape[-1])
        self._step = np.array([int(np.prod(shape[j + 1 :])) for j in range(len(shape))])
        table = np.zeros(tuple(n + 1 for n in shape), dtype=np.int64)
        table[(slice(1, None),) * len(shape)] = ~grid.able
        for axis in range(len(shape)):
            np.cumsum(table, axis=axis, out=table)
        self._of_no_use = table
        self._corners = tuple(product((False, True), repeat=len(shape)))

    def cores(self, sets: NDArray[np.intp]) -> NDArray[np.bool_]:
        """Return which sets (m, 4, k) have a core that fails too many draws."""
        first, last = sets[:, 1], sets[:, 2]
        hopeless = np.zeros(len(sets), dtype=bool)
        has_core = np.flatnonzero((first <= last).all(axis=1))
        barred = self._barred(first[has_core], last[has_core])
        hopeless[has_core[barred]] = True
        open_still = has_core[~barred]
        size = max(1, WORDS // self._bits.shape[1])
        for start in range(0, open_still.size, size):
            some = open_still[start : start + size]
            hopeless[some] = self._fails(first[some], last[some])
        return hopeless

    def _barred(self, first: NDArray[np.intp], last: NDArray[np.intp]) -> NDArray[np.bool_]:
        """Return which boxes hold a point of no use, from running sums over the grid."""
        found = np.zeros(len(first), dtype=np.int64)
        for corner in self._corners:
            place = np.where(corner, last + 1, first)
            sign = 1 if sum(corner) % 2 == len(corner) % 2 else -1
            found += sign * self._of_no_use[tuple(place.T)]
        return np.asarray(found > 0)

    def _fails(self, first: NDArray[np.intp], last: NDArray[np.intp]) -> NDArray[np.bool_]:
        bad = self._bits[((first + last) // 2) @ self._step]
        for corner in self._corners:
            bad |= self._bits[np.where(corner, last, first) @ self._step]
        return np.asarray(counts(bad) > self._grid.budget)
