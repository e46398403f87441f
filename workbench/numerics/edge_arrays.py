"""Three-level arrays of Box and Behnken: small two-level factorials on blocks of factors."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

Group = tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EdgeArray:
    """Runs (n, k) at −1, 0, +1 without centre runs; `block` (n,) is the finest orthogonal split.

    In every block each factor is off its middle equally often, so that squares, main effects
    and interactions of two factors are clear of blocks once each block has the same number of
    centre runs.
    """

    runs: NDArray[np.int64]
    block: NDArray[np.int64]

    def __post_init__(self) -> None:
        self.runs.setflags(write=False)
        self.block.setflags(write=False)


def edge_array(n_factors: int) -> EdgeArray:
    """Return the array of Box and Behnken (1960, Technometrics 2, 455-475) for k factors.

    k is 3 to 7, 9, 10, 11, 12 or 16; groups of factors are moved together through a two-level
    factorial (a half of it for 11 factors) while the others stay at their middle.
    """
    runs: list[list[int]] = []
    block: list[int] = []
    for number, groups in enumerate(_parts(n_factors)):
        for group in groups:
            for signs in _signs(len(group)):
                row = [0] * n_factors
                for place, sign in zip(group, signs, strict=True):
                    row[place] = sign
                runs.append(row)
                block.append(2 * number + _half(n_factors, signs))
    labels = np.unique(np.array(block), return_inverse=True)[1]
    return EdgeArray(runs=np.array(runs, dtype=np.int64), block=labels.astype(np.int64))


def has_edge_array(n_factors: int) -> bool:
    """Return whether there is a block structure of 1960 for this many factors."""
    return n_factors in (3, 4, 5, 6, 7, 9, 10, 11, 12, 16)


def _signs(size: int) -> list[tuple[int, ...]]:
    """Return the two-level factorial of a group; of five factors the half with product +1."""
    full = list(product((-1, 1), repeat=size))
    return full if size < 5 else [signs for signs in full if np.prod(signs) > 0]


def _half(n_factors: int, signs: tuple[int, ...]) -> int:
    """Return which half of a group's factorial a run is in, where halves are the blocks."""
    return int(np.prod(signs) > 0) if n_factors in (6, 7, 10, 12) else 0


def _parts(n_factors: int) -> list[list[Group]]:
    """Return groups of factors, parted into sets that hold every factor equally often."""
    if not has_edge_array(n_factors):
        raise ValueError(f"no block structure for {n_factors} factors")
    if n_factors == 4:
        return [[(0, 1), (2, 3)], [(0, 2), (1, 3)], [(0, 3), (1, 2)]]
    if n_factors == 10:
        return [_petersen()]
    if n_factors in (9, 16):
        # Lines of an affine plane, one parallel class taken twice.
        classes = _affine_plane_3() if n_factors == 9 else _affine_plane_4()
        return [*classes, classes[0]]
    return [_cyclic(first, n_factors) for first in CYCLIC[n_factors]]


# First groups of cyclic structures: the pairs of three and (in two pentagons) of five points,
# triples in a ring of six, the plane of seven points, the biplane of eleven points, and groups
# of four in a ring of twelve.
CYCLIC: dict[int, tuple[Group, ...]] = {
    3: ((0, 1),),
    5: ((0, 1), (0, 2)),
    6: ((0, 1, 3),),
    7: ((0, 1, 3),),
    11: ((0, 2, 3, 4, 8),),
    12: ((0, 1, 4, 6),),
}


def _cyclic(first: Group, size: int) -> list[Group]:
    return [tuple(sorted((i + shift) % size for i in first)) for shift in range(size)]


def _petersen() -> list[Group]:
    """Return each pair out of five with the three pairs apart from it (ten groups of four)."""
    pairs = [(a, b) for a in range(5) for b in range(a + 1, 5)]
    apart = [[q for q in pairs if not set(p) & set(q)] for p in pairs]
    return [
        tuple(sorted([pairs.index(p), *(pairs.index(q) for q in others)]))
        for p, others in zip(pairs, apart, strict=True)
    ]


def _affine_plane_3() -> list[list[Group]]:
    points = list(product(range(3), repeat=2))
    slopes = [(1, 0), (0, 1), (1, 1), (1, 2)]
    return [
        [tuple(i for i, (x, y) in enumerate(points) if (a * x + b * y) % 3 == c) for c in range(3)]
        for a, b in slopes
    ]


# Product of two elements of the field of four, written 0, 1, w, w + 1 as 0, 1, 2, 3.
FIELD_OF_FOUR = ((0, 0, 0, 0), (0, 1, 2, 3), (0, 2, 3, 1), (0, 3, 1, 2))


def _affine_plane_4() -> list[list[Group]]:
    points = list(product(range(4), repeat=2))
    slopes = [(1, 0), (0, 1), (1, 1), (1, 2), (1, 3)]
    return [
        [
            tuple(
                i
                for i, (x, y) in enumerate(points)
                if FIELD_OF_FOUR[a][x] ^ FIELD_OF_FOUR[b][y] == c
            )
            for c in range(4)
        ]
        for a, b in slopes
    ]
