"""Largest boxes on a grid in which few enough draws fail anywhere."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

WORD = 64


@dataclass(frozen=True, slots=True, kw_only=True)
class GridBox:
    """First and last grid line of a box on each axis, both ends inside, and its size."""

    first: tuple[int, ...]
    last: tuple[int, ...]
    size: float


def packed(failed: NDArray[np.bool_]) -> NDArray[np.uint64]:
    """Return flags (n_draws, n) as bit sets (n, words), the draws of a point side by side."""
    n_draws, n = failed.shape
    padded = np.zeros((n, -(-n_draws // WORD) * WORD), dtype=bool)
    padded[:, :n_draws] = failed.T
    return np.packbits(padded, axis=1).view(np.uint64)


def counts(bits: NDArray[np.uint64]) -> NDArray[np.int64]:
    """Return how many bits are set in each set (…, words)."""
    return np.asarray(np.bitwise_count(bits).sum(axis=-1, dtype=np.int64))


def largest_box(
    bits: NDArray[np.uint64],
    usable: NDArray[np.bool_],
    *,
    budget: int,
    widths: Sequence[NDArray[np.float64]],
) -> GridBox | None:
    """Return the box of the largest size in which at most `budget` draws fail anywhere.

    `bits` (g1, …, gk, words) hold the draws that fail at each grid point, `usable` (g1, …, gk)
    the points that may be part of a box, `widths` the width for which each grid line stands; a
    side is as long as the sum of its widths, the size is the product of the sides. Exact: every
    box larger than the best so far is looked at, all positions of one shape at a time, and a
    shape is skipped where no position can beat the best. Of boxes of one size that in which the
    fewest draws fail is taken, then the first.
    """
    able = usable & (counts(bits) <= budget)
    if not able.any():
        return None
    crop = [_extent(able, axis) for axis in range(able.ndim)]
    inner = np.where(able[..., None], bits, ~np.uint64(0))[tuple(crop)]
    reach = [_sides(width[part]) for width, part in zip(widths, crop, strict=True)]
    best = _best(inner, reach, budget=budget, start=_cube(inner, reach, budget=budget))
    if best is None:
        return None
    shift = [part.start for part in crop]
    return GridBox(
        first=tuple(i + s for i, s in zip(best.first, shift, strict=True)),
        last=tuple(i + s for i, s in zip(best.last, shift, strict=True)),
        size=best.size,
    )


def _extent(able: NDArray[np.bool_], axis: int) -> slice:
    other = tuple(i for i in range(able.ndim) if i != axis)
    where = np.flatnonzero(able.any(axis=other))
    return slice(int(where[0]), int(where[-1]) + 1)


def _sides(width: NDArray[np.float64]) -> list[NDArray[np.float64]]:
    """Return, for each number of lines, the side lengths of all positions."""
    edge = np.concatenate([[0.0], np.cumsum(width)])
    return [edge[count:] - edge[:-count] for count in range(1, width.size + 1)]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Found:
    first: tuple[int, ...]
    last: tuple[int, ...]
    size: float
    failing: int

    def beats(self, other: _Found | None) -> bool:
        if other is None:
            return True
        margin = 1e-12 * max(self.size, other.size)
        if abs(self.size - other.size) > margin:
            return self.size > other.size
        return (self.failing, self.first) < (other.failing, other.first)


def _cube(
    bits: NDArray[np.uint64], reach: list[list[NDArray[np.float64]]], *, budget: int
) -> _Found | None:
    """Return the best box with nearly as many lines on every axis: a first bound, found fast."""
    best = None
    for count in range(1, max(bits.shape[:-1]) + 1):
        shape = tuple(min(count, g) for g in bits.shape[:-1])
        windows = bits
        for axis, lines in enumerate(shape):
            windows = _windows(windows, axis, lines)
        found = _in_shape(windows, shape, reach, budget=budget)
        if found is None:
            break
        best = found if found.beats(best) else best
    return best


def _best(
    bits: NDArray[np.uint64],
    reach: list[list[NDArray[np.float64]]],
    *,
    budget: int,
    start: _Found | None,
) -> _Found | None:
    best = start
    last_axis = bits.ndim - 2
    for shape, windows in _shapes(bits, 0, last_axis, budget=budget):
        so_far = float(np.prod([reach[a][n - 1].max() for a, n in enumerate(shape)]))
        for lines in range(1, bits.shape[last_axis] + 1):
            if best is not None and so_far * reach[last_axis][lines - 1].max() < best.size * (
                1 - 1e-12
            ):
                continue
            found = _in_shape(
                _windows(windows, last_axis, lines), (*shape, lines), reach, budget=budget
            )
            if found is None:
                break
            best = found if found.beats(best) else best
    return best


def _shapes(
    bits: NDArray[np.uint64], axis: int, last_axis: int, *, budget: int
) -> Iterator[tuple[tuple[int, ...], NDArray[np.uint64]]]:
    """Yield numbers of lines on all axes but the last, with the OR of every position."""
    if axis == last_axis:
        yield (), bits
        return
    windows = bits
    for lines in range(1, bits.shape[axis] + 1):
        if lines > 1:
            windows = _longer(windows, bits, axis, lines=lines)
        if int(counts(windows).min()) > budget:
            return
        for rest, inner in _shapes(windows, axis + 1, last_axis, budget=budget):
            yield (lines, *rest), inner


def _longer(
    windows: NDArray[np.uint64], bits: NDArray[np.uint64], axis: int, *, lines: int
) -> NDArray[np.uint64]:
    """Return windows of `lines` from windows of one line less."""
    positions = bits.shape[axis] - lines + 1
    added = _part(bits, axis, slice(lines - 1, lines - 1 + positions))
    return np.asarray(_part(windows, axis, slice(0, positions)) | added)


def _windows(bits: NDArray[np.uint64], axis: int, lines: int) -> NDArray[np.uint64]:
    """Return the OR over `lines` neighbours at every position, by doubling."""
    whole, covered = bits, 1
    while covered < lines:
        step = min(covered, lines - covered)
        size = whole.shape[axis] - step
        whole = _part(whole, axis, slice(0, size)) | _part(whole, axis, slice(step, step + size))
        covered += step
    return whole


def _part(array: NDArray[np.uint64], axis: int, some: slice) -> NDArray[np.uint64]:
    return array[(slice(None),) * axis + (some,)]


def _in_shape(
    windows: NDArray[np.uint64],
    shape: tuple[int, ...],
    reach: list[list[NDArray[np.float64]]],
    *,
    budget: int,
) -> _Found | None:
    """Return the largest position of one shape that holds, or None."""
    failing = counts(windows)
    holds = np.argwhere(failing <= budget)
    if not holds.size:
        return None
    size = np.ones(holds.shape[0])
    for axis, lines in enumerate(shape):
        size *= reach[axis][lines - 1][holds[:, axis]]
    near = np.flatnonzero(size >= size.max() * (1 - 1e-12))
    place = near[np.argmin(failing[tuple(holds[near].T)])]
    first = tuple(int(i) for i in holds[place])
    return _Found(
        first=first,
        last=tuple(i + n - 1 for i, n in zip(first, shape, strict=True)),
        size=float(size[place]),
        failing=int(failing[first]),
    )
