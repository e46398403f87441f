"""The cells of a sheet or text table as they stand, with what else the file says of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from workbench.run.receipt import ReceiptLine


class At(NamedTuple):
    """Where a cell stands, counted from 0."""

    row: int
    column: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A rectangle of cells, first and last included, counted from 0."""

    top: int
    left: int
    bottom: int
    right: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """Texts row by row (rows may be short), and the numbers that the file holds as such.

    `numbers` has the shape of `texts`, and is None for a text table. `merged`, `hidden_rows`,
    `hidden_columns`, `struck` (crossed out), `formulas` and `uncalculated` are what a sheet says
    besides; `lines` say what was assumed so far.
    """

    texts: list[list[str]]
    numbers: list[list[float | None]] | None = None
    merged: tuple[Span, ...] = ()
    hidden_rows: frozenset[int] = frozenset()
    hidden_columns: frozenset[int] = frozenset()
    struck: frozenset[At] = frozenset()
    formulas: frozenset[At] = frozenset()
    uncalculated: frozenset[At] = frozenset()
    lines: tuple[ReceiptLine, ...] = ()

    def text(self, row: int, column: int) -> str:
        """Return the text of a cell, empty where none stands."""
        cells = self.texts[row]
        return cells[column] if column < len(cells) else ""

    def number(self, row: int, column: int) -> float | None:
        """Return the number that the file holds in a cell as such, None if it holds none."""
        if self.numbers is None or column >= len(self.numbers[row]):
            return None
        return self.numbers[row][column]


def column_letters(column: int) -> str:
    """Return the letters over a column that is counted from 0.

    Examples
    --------
    >>> [column_letters(j) for j in (0, 25, 26, 701, 702)]
    ['A', 'Z', 'AA', 'ZZ', 'AAA']
    """
    letters = ""
    left = column + 1
    while left:
        left, place = divmod(left - 1, 26)
        letters = chr(ord("A") + place) + letters
    return letters


def column_number(letters: str) -> int:
    """Return the column, counted from 0, under letters.

    Examples
    --------
    >>> [column_number(letters) for letters in ("A", "z", "AA")]
    [0, 25, 26]
    """
    number = 0
    for letter in letters.upper():
        number = number * 26 + ord(letter) - ord("A") + 1
    return number - 1


def cell_name(row: int, column: int) -> str:
    """Return the name of a cell as a spreadsheet program shows it, such as B12."""
    return f"{column_letters(column)}{row + 1}"
