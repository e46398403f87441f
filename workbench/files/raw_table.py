"""A table as it was read: text cells with their place, before anything is made of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple, overload

from workbench.files.read_options import AS_FOUND

if TYPE_CHECKING:
    from collections.abc import Iterator

    from workbench.files.read_options import ReadOptions
    from workbench.run.receipt import ReceiptLine


class Cell(NamedTuple):
    """One cell: what a person sees, and the number if the file holds one as such.

    A named tuple, for tables hold hundreds of thousands and it is made in half the time.
    """

    text: str
    number: float | None = None

    @property
    def is_empty(self) -> bool:
        """Whether nothing but blanks stands in it."""
        return not self.text.strip()


@dataclass(frozen=True, slots=True, kw_only=True)
class Cells(Sequence[Cell]):
    """The cells of a column, each made when it is asked for.

    `numbers` is None where the file holds no number as such in the whole column.
    """

    texts: tuple[str, ...]
    numbers: tuple[float | None, ...] | None = None

    def __len__(self) -> int:
        return len(self.texts)

    @overload
    def __getitem__(self, at: int) -> Cell: ...
    @overload
    def __getitem__(self, at: slice) -> tuple[Cell, ...]: ...
    def __getitem__(self, at: int | slice) -> Cell | tuple[Cell, ...]:
        if isinstance(at, slice):
            return tuple(self)[at]
        return Cell(self.texts[at], None if self.numbers is None else self.numbers[at])

    def __iter__(self) -> Iterator[Cell]:
        if self.numbers is None:
            return map(Cell, self.texts)
        return map(Cell, self.texts, self.numbers)


@dataclass(frozen=True, slots=True, kw_only=True)
class RawRow:
    """One row with its number as a person sees it (the heading is usually row 1)."""

    number: int
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class Rows(Sequence[RawRow]):
    """The rows of a table, each made when it is asked for."""

    numbers: tuple[int, ...]
    columns: tuple[Cells, ...]

    def __len__(self) -> int:
        return len(self.numbers)

    @overload
    def __getitem__(self, at: int) -> RawRow: ...
    @overload
    def __getitem__(self, at: slice) -> tuple[RawRow, ...]: ...
    def __getitem__(self, at: int | slice) -> RawRow | tuple[RawRow, ...]:
        if isinstance(at, slice):
            return tuple(self[i] for i in range(*at.indices(len(self))))
        return RawRow(number=self.numbers[at], cells=tuple(one[at] for one in self.columns))


@dataclass(frozen=True, slots=True, kw_only=True)
class RawTable:
    """A table of text cells under headings, empty rows and columns dropped.

    `source` names the file (and sheet), `row_numbers` (n,) are those that a person sees, `digest`
    is the SHA-256 of the file, `lines` say what was assumed on reading it, `options` what the user
    said. `plan` is the digest of the plan that a run sheet of ours was written for, empty for any
    other table.
    """

    source: str
    headings: tuple[str, ...]
    columns: tuple[Cells, ...]
    row_numbers: tuple[int, ...]
    digest: str
    lines: tuple[ReceiptLine, ...]
    plan: str = ""
    options: ReadOptions = field(default=AS_FOUND)

    def __len__(self) -> int:
        return len(self.row_numbers)

    @property
    def rows(self) -> Rows:
        """Return the rows, top to bottom."""
        return Rows(self.row_numbers, self.columns)

    def column(self, heading: str) -> Cells:
        """Return the cells under a heading, top to bottom."""
        return self.columns[self.headings.index(heading)]

    def place(self, row: int, heading: str) -> str:
        """Return where a cell stands, as a person finds it; `row` counts from 0."""
        return f"{self.source}, row {self.row_numbers[row]}, column {heading!r}"

    def column_place(self, heading: str) -> str:
        """Return where a column stands."""
        return f"{self.source}, column {heading!r}"
