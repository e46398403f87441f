"""Orthogonal arrays of strength two with mixed levels: which columns each of them offers."""

from __future__ import annotations

from dataclasses import dataclass
from math import prod
from typing import TYPE_CHECKING

import numpy as np

from workbench.numerics.hadamard import hadamard

if TYPE_CHECKING:
    from numpy.typing import NDArray

# Arrays of pyDOE3 that were checked pair by pair; the others it offers are built here or not at
# all. Names are its own; the levels of the columns are read off the array, not off the name.
FROM_LIBRARY = (
    "L9(3^4)",
    "L16(4^5)",
    "L18(6^1 3^6)",
    "L25(5^6)",
    "L27(2^1 3^12)",
    "L32(2^1 4^9)",
    "L36(3^23)",
    "L50(2^1 5^11)",
    "L54(2^1 3^25)",
    "L64(4^21)",
    "L81(3^40)",
)
TWO_LEVEL = (4, 8, 12, 16, 20, 24, 28, 32, 36, 40, 44, 48)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Columns:
    """Columns (n, k) of level indices that one array gives to factors with these many levels."""

    index: NDArray[np.int64]
    source: str

    def __post_init__(self) -> None:
        self.index.setflags(write=False)


def columns_for(levels: tuple[int, ...], runs: int | None) -> Columns | None:
    """Return the smallest array (or that of `runs`) with a column for each number of levels.

    A column of four levels may serve as three of two, one of six as one of two and one of
    three: levels that are combinations of others stay orthogonal to all other columns. Arrays
    of as many runs as there are combinations of levels, or more, are left out.
    """
    for size, source in _catalogue():
        if runs is not None and size != runs:
            continue
        if not sum(n - 1 for n in levels) < size < prod(levels):
            continue
        found = _assigned(_array(source, size), levels)
        if found is not None:
            return Columns(index=found, source=source)
    return None


def sizes_for(levels: tuple[int, ...]) -> tuple[int, ...]:
    """Return the numbers of runs in which an array carries these levels, fewest first."""
    found = {size for size, _ in _catalogue() if columns_for(levels, size) is not None}
    return tuple(sorted(found))


def _catalogue() -> list[tuple[int, str]]:
    library = [(int(name[1 : name.index("(")]), name) for name in FROM_LIBRARY]
    own = [(n, "two levels") for n in TWO_LEVEL] + [(8, "one of four levels, four of two")]
    return sorted([*own, *library])


def _array(source: str, size: int) -> NDArray[np.int64]:
    if source == "two levels":
        return (1 - hadamard(size)[:, 1:]) // 2
    if source == "one of four levels, four of two":
        a, b = np.divmod(np.arange(8), 2)
        low, high = a % 2, a // 2
        return np.column_stack([a, b, b ^ low, b ^ high, b ^ low ^ high])
    from pyDOE3 import get_orthogonal_array  # noqa: PLC0415 -- a slow import, for these alone

    raw = np.array(get_orthogonal_array(source)).astype(np.int64)
    return np.column_stack([np.unique(c, return_inverse=True)[1] for c in raw.T]).astype(np.int64)


def _assigned(array: NDArray[np.int64], levels: tuple[int, ...]) -> NDArray[np.int64] | None:
    """Return one column a factor, splitting columns of four and six where two or three lack."""
    pool = [array[:, j] for j in range(array.shape[1])]
    taken: dict[int, NDArray[np.int64]] = {}
    # Factors with the most levels choose first, so that no column is split too early.
    for place in sorted(range(len(levels)), key=lambda i: -levels[i]):
        column = _take(pool, levels[place])
        if column is None:
            return None
        taken[place] = column
    return np.column_stack([taken[i] for i in range(len(levels))])


def _take(pool: list[NDArray[np.int64]], n_levels: int) -> NDArray[np.int64] | None:
    for j, column in enumerate(pool):
        if int(column.max()) + 1 == n_levels:
            return pool.pop(j)
    for j, column in enumerate(pool):
        parts = _split(column)
        if any(int(part.max()) + 1 == n_levels for part in parts):
            pool.pop(j)
            pool.extend(parts)
            return _take(pool, n_levels)
    return None


def _split(column: NDArray[np.int64]) -> list[NDArray[np.int64]]:
    n_levels = int(column.max()) + 1
    if n_levels == 4:
        return [column % 2, column // 2, (column % 2) ^ (column // 2)]
    if n_levels == 6:
        return [column % 2, column // 2]
    return []
