"""Cells of a sheet gathered into a grid, row by row, within the limits."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from workbench.files.grid import Grid
from workbench.files.limits import (
    CELLS_AT_MOST,
    COLUMNS_AT_MOST,
    LETTERS_AT_MOST,
    SHEET_ROWS_AT_MOST,
    too_long,
    too_many_cells,
    too_many_columns,
    too_many_rows,
)

if TYPE_CHECKING:
    from workbench.files.grid import At, Span


@dataclass(slots=True)
class SheetCells:
    """A sheet as it is being read; cells come in any order of columns, rows from the top."""

    place: str
    texts: list[list[str]] = field(default_factory=list)
    numbers: list[list[float | None]] = field(default_factory=list)
    merged: list[Span] = field(default_factory=list)
    hidden_rows: set[int] = field(default_factory=set)
    hidden_columns: set[int] = field(default_factory=set)
    struck: set[At] = field(default_factory=set)
    formulas: set[At] = field(default_factory=set)
    uncalculated: set[At] = field(default_factory=set)
    n_cells: int = 0

    def put(self, row: int, column: int, text: str, *, number: float | None = None) -> None:
        """Put a cell that is not empty.

        Raises
        ------
        FileError
            If it lies beyond the limits.
        """
        if row >= SHEET_ROWS_AT_MOST:
            raise too_many_rows(self.place)
        if column >= COLUMNS_AT_MOST:
            raise too_many_columns(self.place)
        if len(text) > LETTERS_AT_MOST:
            raise too_long(len(text), self.place)
        while len(self.texts) <= row:
            self.texts.append([])
            self.numbers.append([])
        texts, numbers = self.texts[row], self.numbers[row]
        missing = column - len(texts)
        if missing >= 0:
            self.n_cells += missing + 1
            if self.n_cells > CELLS_AT_MOST:
                raise too_many_cells(self.place)
            texts.extend([""] * missing)
            numbers.extend([None] * missing)
            texts.append(text)
            numbers.append(number)
        else:
            texts[column], numbers[column] = text, number

    def grid(self) -> Grid:
        """Return what was gathered."""
        return Grid(
            texts=self.texts,
            numbers=self.numbers,
            merged=tuple(self.merged),
            hidden_rows=frozenset(self.hidden_rows),
            hidden_columns=frozenset(self.hidden_columns),
            struck=frozenset(self.struck),
            formulas=frozenset(self.formulas),
            uncalculated=frozenset(self.uncalculated),
        )
