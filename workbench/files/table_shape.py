"""From a grid of cells to a table: find it, head it, and leave out what is no run."""

from __future__ import annotations

from dataclasses import dataclass
from operator import itemgetter
from typing import TYPE_CHECKING, TypeVar

from workbench.errors import FileError
from workbench.files.body_rows import body_rows
from workbench.files.dates import dated
from workbench.files.durations import timed
from workbench.files.grid import cell_name, column_letters
from workbench.files.grid_areas import whole_area
from workbench.files.grid_tables import chosen_table
from workbench.files.heading_rows import heading_rows
from workbench.files.limits import ROWS_AT_MOST, too_many_rows
from workbench.files.raw_table import Cells, RawTable
from workbench.files.sheet_marks import filled_down, look_lines
from workbench.files.total_rows import total_rows
from workbench.run.receipt import ReceiptLine

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.files.grid import Grid
    from workbench.files.grid_areas import Area
    from workbench.files.heading_rows import HeadingRows
    from workbench.files.read_options import ReadOptions

SHORT_ROWS_NAMED = 10

T = TypeVar("T")


def shaped(grid: Grid, *, source: str, digest: str, options: ReadOptions) -> RawTable:
    """Return the table in a grid of cells, with every assumption made on finding it.

    Raises
    ------
    FileError
        If there is no heading or no row, a heading is missing or stands twice, a row is too long,
        a formula was never calculated, or something has two readings.
    """
    whole = whole_area(grid, source=source)
    if not whole.n_rows:
        raise _empty(source)
    chosen = chosen_table(whole, wanted=options.table)
    area = chosen.area
    headings = heading_rows(area, wanted=options.headings, is_fixed=chosen.is_fixed)
    body = body_rows(area, headings)
    _check_rows(len(body.rows), source)
    _check_calculated(area, body.rows)
    columns = _columns(area, headings, body.rows)
    filled = filled_down(grid, columns.cells, body.rows, places=columns.places, source=source)
    numbers = [row + 1 for row in body.rows]
    totals = total_rows(filled.cells, numbers, wanted=options.totals, source=source)
    left_out = frozenset(totals.places)
    kept = [i for i in range(len(numbers)) if i not in left_out]
    _check_rows(len(kept), source)
    cells = [_picked(one, kept) if left_out else one for one in filled.cells]
    table = _Table(headings=list(columns.headings), cells=cells, lines=[])
    _read_times(table, source=source, options=options)
    rows = [body.rows[i] for i in kept]
    lines = [
        *grid.lines, *chosen.lines, *headings.lines, *body.lines, *columns.lines, *filled.lines,
        *totals.lines, *table.lines,
        *look_lines(grid, rows, columns.places, headings=table.headings, source=source),
    ]  # fmt: skip
    return RawTable(
        source=source,
        headings=tuple(table.headings),
        columns=tuple(table.cells),
        row_numbers=tuple(numbers[i] for i in kept),
        digest=digest,
        lines=tuple(lines),
        options=options,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Columns:
    """The columns that are kept: headings, cells, and where they stand in the grid."""

    headings: tuple[str, ...]
    cells: tuple[Cells, ...]
    places: tuple[int, ...]
    lines: tuple[ReceiptLine, ...]


@dataclass(slots=True, kw_only=True)
class _Table:
    headings: list[str]
    cells: list[Cells]
    lines: list[ReceiptLine]


def _columns(area: Area, headings: HeadingRows, rows: Sequence[int]) -> _Columns:
    width = _width(headings)
    _check_lengths(area, headings, rows)
    texts = _turned(area.grid.texts, rows, area, fill="")
    numbers: list[tuple[float | None, ...]] | None = None
    if area.grid.numbers is not None:
        numbers = _turned(area.grid.numbers, rows, area, fill=None)
    kept = [j for j in range(width) if any(texts[j])]
    for j in kept:
        if not headings.names[j]:
            raise _headless(area, headings, j)
    names = tuple(headings.names[j] for j in kept)
    _check_headings(names, area.source)
    return _Columns(
        headings=names,
        cells=tuple(_cells(texts[j], None if numbers is None else numbers[j]) for j in kept),
        places=tuple(area.left + j for j in kept),
        lines=(
            *_left_out(headings, kept, area.source),
            *_short_rows(area, rows, width),
        ),
    )


def _turned(
    grid: Sequence[list[T]], rows: Sequence[int], area: Area, *, fill: T
) -> list[tuple[T, ...]]:
    """Return the columns of an area in some rows, short rows filled up."""
    chosen = [grid[row] for row in rows]
    short = [i for i, cells in enumerate(chosen) if len(cells) < area.right]
    for i in short:
        chosen[i] = chosen[i] + [fill] * (area.right - len(chosen[i]))
    return [tuple(map(itemgetter(column), chosen)) for column in area.columns]


def _cells(texts: tuple[str, ...], numbers: tuple[float | None, ...] | None) -> Cells:
    if numbers is None or all(one is None for one in numbers):
        return Cells(texts=texts)
    return Cells(texts=texts, numbers=numbers)


def _picked(cells: Cells, kept: Sequence[int]) -> Cells:
    numbers = None if cells.numbers is None else tuple(cells.numbers[i] for i in kept)
    return _cells(tuple(cells.texts[i] for i in kept), numbers)


def _read_times(table: _Table, *, source: str, options: ReadOptions) -> None:
    """Read dates and times of day or of duration where a column holds them."""
    for j, (heading, cells) in enumerate(zip(table.headings, table.cells, strict=True)):
        times = timed(cells, heading=heading, source=source, options=options)
        if times is not None:
            table.headings[j] = times.heading
            table.cells[j] = _cells(times.texts, times.numbers)
            table.lines += times.lines
            continue
        dates = dated(cells.texts, heading=heading, source=source, options=options)
        if dates is not None:
            table.cells[j] = _cells(dates.texts, cells.numbers)
            table.lines += dates.lines


def _width(headings: HeadingRows) -> int:
    width = len(headings.names)
    while width and not headings.names[width - 1]:
        width -= 1
    return width


def _check_rows(n_rows: int, source: str) -> None:
    if n_rows == 0:
        raise FileError(
            "The table has headings but no rows.",
            why="There is nothing to take in.",
            next_step="Add at least one row below the headings.",
            place=source,
        )
    if n_rows > ROWS_AT_MOST:
        raise too_many_rows(source)


def _check_calculated(area: Area, rows: Sequence[int]) -> None:
    if not area.grid.uncalculated:
        return
    inside = set(rows)
    for at in sorted(area.grid.uncalculated):
        if at.row in inside and at.column in area.columns:
            raise FileError(
                f"The formula in cell {cell_name(at.row, at.column)} was never calculated.",
                why="Its value is not in the file.",
                next_step="Open the workbook in a spreadsheet program, let it calculate, save.",
                place=area.source,
            )


def _check_lengths(area: Area, headings: HeadingRows, rows: Sequence[int]) -> None:
    width = _width(headings)
    beyond = area.filled[:, area.left + width : area.right].sum(axis=1)
    row = next((row for row in rows if beyond[row]), None)
    if row is not None:
        n_cells = len(area.grid.texts[row]) - area.left
        raise FileError(
            f"The row has {n_cells} cells under {width} headings.",
            why="It cannot be told which value belongs to which heading.",
            next_step="Give every column a heading; if a comma is the decimal mark, "
            "separate the cells by semicolons.",
            place=f"{area.source}, row {row + 1}",
        )


def _headless(area: Area, headings: HeadingRows, column: int) -> FileError:
    letters = column_letters(area.left + column)
    return FileError(
        f"Column {area.left + column + 1} ({letters}) holds values but has no heading.",
        why="It cannot be said what it is.",
        next_step="Give it a heading; if the headings stand elsewhere, name their first cell: "
        f"--table {cell_name(headings.body, area.left)}.",
        place=f"{area.source}, row {headings.first + 1}",
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


def _left_out(headings: HeadingRows, kept: Sequence[int], source: str) -> tuple[ReceiptLine, ...]:
    inside = set(kept)
    return tuple(
        ReceiptLine(
            where=f"{source}, column {name!r}",
            met="a heading without any value",
            understood="left out",
        )
        for j, name in enumerate(headings.names)
        if j not in inside and name
    )


def _short_rows(area: Area, rows: Sequence[int], width: int) -> tuple[ReceiptLine, ...]:
    if area.grid.numbers is not None:
        return ()
    needed = area.left + width
    short = [row for row in rows if len(area.grid.texts[row]) < needed]
    lines = [
        ReceiptLine(
            where=f"{area.source}, row {row + 1}",
            met=f"{len(area.grid.texts[row]) - area.left} cells under {width} headings",
            understood="the cells at the end are empty",
            sure=False,
        )
        for row in short[:SHORT_ROWS_NAMED]
    ]
    if len(short) > SHORT_ROWS_NAMED:
        more = f"{len(short) - SHORT_ROWS_NAMED} more short rows"
        understood = "the cells at their ends are empty"
        lines.append(ReceiptLine(where=area.source, met=more, understood=understood, sure=False))
    return tuple(lines)


def _empty(source: str) -> FileError:
    return FileError(
        "The table is empty.",
        why="There is nothing to take in.",
        next_step="Name a file with a heading row and at least one row below it.",
        place=source,
    )
