"""A grid whose points each hold a bit set: the draws that fail there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

WORD = 64


def packed(failed: NDArray[np.bool_]) -> NDArray[np.uint64]:
    """Return flags (n_draws, n) as bit sets (n, words), the draws of a point side by side."""
    n_draws, n = failed.shape
    padded = np.zeros((n, -(-n_draws // WORD) * WORD), dtype=bool)
    padded[:, :n_draws] = failed.T
    return np.packbits(padded, axis=1).view(np.uint64)


def counts(bits: NDArray[np.uint64]) -> NDArray[np.int64]:
    """Return how many bits are set in each set (…, words)."""
    return np.asarray(np.bitwise_count(bits).sum(axis=-1, dtype=np.int64))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BitGrid:
    """Bit sets (g1, …, gk, words), all bits set where a point is of no use, and the `budget`.

    `able` (g1, …, gk) are the points that alone keep the budget; `edges` (gj + 1,) the running
    sums of the widths for which the lines of each axis stand; `weights` (k,) the powers of the
    sides in a box's size.
    """

    bits: NDArray[np.uint64]
    able: NDArray[np.bool_]
    edges: tuple[NDArray[np.float64], ...]
    budget: int
    weights: NDArray[np.float64]

    @property
    def n_axes(self) -> int:
        """Number of axes k."""
        return self.able.ndim

    def union(self, first: NDArray[np.intp], last: NDArray[np.intp]) -> NDArray[np.uint64]:
        """Return the draws (words,) that fail anywhere in a box, both ends (k,) inside."""
        inside = tuple(slice(a, b + 1) for a, b in zip(first.tolist(), last.tolist(), strict=True))
        return np.asarray(np.bitwise_or.reduce(self.bits[inside].reshape(-1, self.bits.shape[-1])))

    def size(self, first: NDArray[np.intp], last: NDArray[np.intp]) -> NDArray[np.float64]:
        """Return the product of the sides of boxes (…, k), each to the power of its weight."""
        sides = [
            (edge[last[..., axis] + 1] - edge[first[..., axis]]) ** self.weights[axis]
            for axis, edge in enumerate(self.edges)
        ]
        return np.asarray(np.prod(sides, axis=0))


def bit_grid(
    bits: NDArray[np.uint64],
    usable: NDArray[np.bool_],
    *,
    budget: int,
    widths: Sequence[NDArray[np.float64]],
    weights: NDArray[np.float64],
) -> BitGrid:
    """Return the grid of bit sets (g1, …, gk, words) in which boxes are sought."""
    able = usable & (counts(bits) <= budget)
    return BitGrid(
        bits=bits if able.all() else np.where(able[..., None], bits, ~np.uint64(0)),
        able=able,
        edges=tuple(np.concatenate([[0.0], np.cumsum(width)]) for width in widths),
        budget=budget,
        weights=weights,
    )
