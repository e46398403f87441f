"""A table as it was read: text cells with their place, before anything is made of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.errors import FileError
from workbench.run.receipt import ReceiptLine

if TYPE_CHECKING:
    from collections.abc import Sequence

ROWS_AT_MOST = 200_000
COLUMNS_AT_MOST = 1_000


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell: what a person sees, and the number if the file holds one as such."""

    text: str
    number: float | None = None

    @property
    def is_empty(self) -> bool:
        """Whether nothing but blanks stands in it."""
        return not self.text.strip()


EMPTY = Cell("")


@dataclass(frozen=True, slots=True, kw_only=True)
class RawRow:
    """One row with its number as a person sees it (the heading is usually row 1)."""

    number: int
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RawTable:
    """A table of text cells under headings, empty rows and columns dropped.

    `source` names the file (and sheet), `digest` is the SHA-256 of the file, `lines` say what
    was assumed on reading it. `plan` is the digest of the plan that a run sheet of ours was
    written for, empty for any other table.
    """

    source: str
    headings: tuple[str, ...]
    rows: tuple[RawRow, ...]
    digest: str
    lines: tuple[ReceiptLine, ...]
    plan: str = ""

    def __len__(self) -> int:
        return len(self.rows)

    def column(self, heading: str) -> tuple[Cell, ...]:
        """Return the cells under a heading, top to bottom."""
        place = self.headings.index(heading)
        return tuple(row.cells[place] for row in self.rows)

    def place(self, row: int, heading: str) -> str:
        """Return where a cell stands, as a person finds it; `row` counts from 0."""
        return f"{self.source}, row {self.rows[row].number}, column {heading!r}"

    def column_place(self, heading: str) -> str:
        """Return where a column stands."""
        return f"{self.source}, column {heading!r}"


def shaped(
    grid: Sequence[Sequence[Cell]], *, source: str, digest: str, lines: Sequence[ReceiptLine]
) -> RawTable:
    """Return the table in a grid of cells: the first row that is not empty holds the headings.

    Raises
    ------
    FileError
        If there is no heading, no row, a heading missing or twice, or a row that is too long.
    """
    rows = [RawRow(number=i + 1, cells=tuple(cells)) for i, cells in enumerate(grid)]
    filled = [row for row in rows if any(not cell.is_empty for cell in row.cells)]
    if not filled:
        raise FileError(
            "The table is empty.",
            why="There is nothing to take in.",
            next_step="Name a file with a heading row and at least one row below it.",
            place=source,
        )
    heading, *body = filled
    _check_size(len(body), len(heading.cells), source)
    width = _width(heading)
    _check_lengths(body, width, source)
    padded = [_padded(row, width) for row in body]
    kept = [j for j in range(width) if any(not row.cells[j].is_empty for row in padded)]
    _check_all_headed(heading, kept, source)
    headings = tuple(heading.cells[j].text.strip() for j in kept)
    _check_headings(headings, source)
    noted = [*lines, *_dropped(rows, filled, source), *_left_out(heading, kept, source)]
    noted += _short_rows(body, width, source)
    return RawTable(
        source=source,
        headings=headings,
        rows=tuple(
            RawRow(number=row.number, cells=tuple(row.cells[j] for j in kept)) for row in padded
        ),
        digest=digest,
        lines=tuple(noted),
    )


def _check_size(n_rows: int, n_columns: int, source: str) -> None:
    if n_rows == 0:
        raise FileError(
            "The table has headings but no rows.",
            why="There is nothing to take in.",
            next_step="Add at least one row below the headings.",
            place=source,
        )
    if n_rows > ROWS_AT_MOST or n_columns > COLUMNS_AT_MOST:
        raise FileError(
            f"The table has {n_rows} rows and {n_columns} columns.",
            why=f"At most {ROWS_AT_MOST} rows and {COLUMNS_AT_MOST} columns are taken in; "
            "a trial is far smaller.",
            next_step="Cut out the rows and columns of this trial.",
            place=source,
        )


def _width(heading: RawRow) -> int:
    width = len(heading.cells)
    while width and heading.cells[width - 1].is_empty:
        width -= 1
    return width


def _check_lengths(body: Sequence[RawRow], width: int, source: str) -> None:
    for row in body:
        if any(not cell.is_empty for cell in row.cells[width:]):
            raise FileError(
                f"The row has {len(row.cells)} cells under {width} headings.",
                why="It cannot be told which value belongs to which heading.",
                next_step="Give every column a heading; if a comma is the decimal mark, "
                "separate the cells by semicolons.",
                place=f"{source}, row {row.number}",
            )


def _padded(row: RawRow, width: int) -> RawRow:
    cells = (*row.cells[:width], *(EMPTY,) * (width - len(row.cells)))
    return RawRow(number=row.number, cells=cells)


def _check_all_headed(heading: RawRow, kept: Sequence[int], source: str) -> None:
    for j in kept:
        if heading.cells[j].is_empty:
            raise FileError(
                f"Column {j + 1} holds values but has no heading.",
                why="It cannot be said what it is.",
                next_step="Give it a heading.",
                place=f"{source}, row {heading.number}",
            )


def _check_headings(headings: tuple[str, ...], source: str) -> None:
    seen: dict[str, str] = {}
    for one in headings:
        if one.casefold() in seen:
            raise FileError(
                f"The heading {one!r} stands twice.",
                why="Columns are found by their headings.",
                next_step="Give each column its own heading.",
                place=source,
            )
        seen[one.casefold()] = one


def _dropped(
    rows: Sequence[RawRow], filled: Sequence[RawRow], source: str
) -> tuple[ReceiptLine, ...]:
    last = filled[-1].number
    inside = {row.number for row in rows if row.number < last} - {row.number for row in filled}
    if not inside:
        return ()
    shown = ", ".join(str(n) for n in sorted(inside)[:10])
    return (
        ReceiptLine(
            where=f"{source}, row {shown}{' …' if len(inside) > 10 else ''}",
            met="empty rows" if len(inside) > 1 else "an empty row",
            understood="left out",
        ),
    )


def _left_out(heading: RawRow, kept: Sequence[int], source: str) -> tuple[ReceiptLine, ...]:
    return tuple(
        ReceiptLine(
            where=f"{source}, column {cell.text.strip()!r}",
            met="a heading without any value",
            understood="left out",
        )
        for j, cell in enumerate(heading.cells)
        if j not in kept and not cell.is_empty
    )


def _short_rows(body: Sequence[RawRow], width: int, source: str) -> tuple[ReceiptLine, ...]:
    return tuple(
        ReceiptLine(
            where=f"{source}, row {row.number}",
            met=f"{len(row.cells)} cells under {width} headings",
            understood="the cells at the end are empty",
            sure=False,
        )
        for row in body
        if len(row.cells) < width
    )
