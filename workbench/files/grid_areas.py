"""Rectangles of a grid and what stands in them: which cells say anything, which are numbers."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import chain
from typing import TYPE_CHECKING

import numpy as np

from workbench.files.grid import cell_name
from workbench.files.numbers import Decimal, is_not_measured, looks_like_number

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from workbench.files.grid import Grid

ROWS_LOOKED_AT = 60
RULED = re.compile(r":?[-=_–—]{3,}:?")
NUMBER_SHARE = 0.6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Area:
    """A rectangle of a grid, `bottom` and `right` not included; `filled` is of the whole grid.

    `source` names the file and sheet.
    """

    grid: Grid
    source: str
    filled: NDArray[np.bool_]
    top: int
    left: int
    bottom: int
    right: int

    @property
    def n_rows(self) -> int:
        """Number of rows."""
        return self.bottom - self.top

    @property
    def columns(self) -> range:
        """Columns of the grid."""
        return range(self.left, self.right)

    @property
    def name(self) -> str:
        """Name of its first cell."""
        return cell_name(self.top, self.left)

    def cells(self) -> NDArray[np.bool_]:
        """Return which of its cells are filled."""
        return self.filled[self.top : self.bottom, self.left : self.right]

    def used_rows(self) -> NDArray[np.bool_]:
        """Return which of its rows hold anything."""
        return np.asarray(self.cells().any(axis=1), dtype=bool)

    def used_columns(self) -> NDArray[np.bool_]:
        """Return which of its columns hold anything."""
        return np.asarray(self.cells().any(axis=0), dtype=bool)

    def count(self, row: int) -> int:
        """Return how many cells of a row are filled."""
        return int(self.filled[row, self.left : self.right].sum())

    def texts(self, row: int) -> list[str]:
        """Return the texts of a row."""
        return [self.grid.text(row, column) for column in self.columns]

    def is_number(self, row: int, column: int) -> bool:
        """Whether a number stands in a cell, alone or with a known unit."""
        if self.grid.number(row, column) is not None:
            return True
        return is_number_text(self.grid.text(row, column))

    def is_word(self, row: int, column: int) -> bool:
        """Whether a cell says something that is neither a number nor a sign for nothing."""
        text = self.grid.text(row, column)
        return not is_not_measured(text) and not self.is_number(row, column)

    def numeric_columns(self) -> tuple[int, ...]:
        """Return the columns whose lower part holds numbers, for most of what it says."""
        start = self.top + max(1, self.n_rows // 3)
        rows = range(start, self.bottom, max(1, (self.bottom - start) // ROWS_LOOKED_AT))
        return tuple(column for column in self.columns if self._holds_numbers(rows, column))

    def _holds_numbers(self, rows: range, column: int) -> bool:
        said = [row for row in rows if not is_not_measured(self.grid.text(row, column))]
        numbers = sum(self.is_number(row, column) for row in said)
        return bool(said) and numbers >= NUMBER_SHARE * len(said)

    def part(self, *, top: int | None = None, bottom: int | None = None) -> Area:
        """Return the rows from `top` to before `bottom`, without empty ones at the sides."""
        area = replace(
            self,
            top=self.top if top is None else top,
            bottom=self.bottom if bottom is None else bottom,
        )
        rows = np.flatnonzero(area.used_rows())
        columns = np.flatnonzero(area.used_columns())
        if not rows.size:
            return area
        return replace(
            area,
            top=area.top + int(rows[0]),
            bottom=area.top + int(rows[-1]) + 1,
            left=self.left + int(columns[0]),
            right=self.left + int(columns[-1]) + 1,
        )

    def is_ruled(self, row: int) -> bool:
        """Whether a row holds nothing but lines drawn with letters."""
        texts = [text for text in self.texts(row) if text]
        return bool(texts) and all(map(RULED.fullmatch, texts))


@lru_cache(maxsize=4096)
def is_number_text(text: str) -> bool:
    """Whether a text is a number, alone or with a known unit, with whichever decimal mark."""
    return len(text) < 64 and looks_like_number(text, Decimal.EITHER)


def whole_area(grid: Grid, *, source: str) -> Area:
    """Return the whole grid as an area, cut to what is filled."""
    width = max(map(len, grid.texts), default=0)
    lengths = np.fromiter(map(len, grid.texts), dtype=np.int64, count=len(grid.texts))
    filled = np.arange(width) < lengths[:, np.newaxis]
    filled[filled] = np.fromiter(map(bool, chain.from_iterable(grid.texts)), dtype=bool)
    rows = np.flatnonzero(filled.any(axis=1))
    columns = np.flatnonzero(filled.any(axis=0))
    if not rows.size:
        return Area(grid=grid, source=source, filled=filled, top=0, left=0, bottom=0, right=0)
    return Area(
        grid=grid,
        source=source,
        filled=filled,
        top=int(rows[0]),
        left=int(columns[0]),
        bottom=int(rows[-1]) + 1,
        right=int(columns[-1]) + 1,
    )


def stretches(used: NDArray[np.bool_]) -> Iterator[range]:
    """Return the stretches of neighbours that are used."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], used.astype(np.int8), [0]])))
    yield from (range(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True))
