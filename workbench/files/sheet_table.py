"""Workbook tables (.xlsx): exact numbers, last calculated values, never-calculated formulas."""

from __future__ import annotations

import io
import warnings
import zipfile
from dataclasses import dataclass
from datetime import date, datetime, time
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from workbench.errors import FileError
from workbench.files.raw_table import COLUMNS_AT_MOST, EMPTY, ROWS_AT_MOST, Cell
from workbench.files.sheet_mark import RUNS, mark_in
from workbench.files.text_table import Grid
from workbench.run.receipt import ReceiptLine

if TYPE_CHECKING:
    from collections.abc import Iterator

    from openpyxl.workbook.workbook import Workbook

    from workbench.files.sheet_mark import SheetMark

UNPACKED_AT_MOST = 1_000_000_000  # bytes; a packed file can unfold to far more than it holds


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetGrid:
    """The cells of one sheet and its name; `plan` as in `RawTable`."""

    name: str
    grid: Grid
    plan: str = ""


def sheet_grid(data: bytes, *, source: str, sheet: str | None) -> SheetGrid:
    """Return the cells of a sheet: the one named, or the only one that holds any.

    Raises
    ------
    FileError
        If it is no workbook, the sheet is not there or not named among several, or a formula
        was never calculated.
    """
    _check_packing(data, source)
    values = _opened(data, source, data_only=True)
    formulas = _opened(data, source, data_only=False)
    mark = mark_in(values)
    name, lines = _chosen(values, RUNS if mark and sheet is None else sheet, source)
    ours = _computed(values, name, mark)
    place = f"{source}, sheet {name!r}"
    rows: list[tuple[Cell, ...]] = []
    n_formulas = 0
    for shown, written in zip(_rows(values, name), _rows(formulas, name), strict=True):
        cells = []
        for j, (value, formula) in enumerate(zip(shown, written, strict=True)):
            if j in ours and rows:
                cells.append(EMPTY)
                continue
            n_formulas += formula.data_type == "f"
            _check_calculated(value, formula, place)
            cells.append(_cell(value))
        rows.append(tuple(cells))
        _check_rows(len(rows), place)
    if n_formulas:
        lines = (*lines, _formula_line(place, n_formulas))
    plan = mark.plan if mark else ""
    return SheetGrid(name=name, grid=Grid(rows=tuple(rows), lines=lines), plan=plan)


def _computed(book: Workbook, name: str, mark: SheetMark | None) -> frozenset[int]:
    """Return the columns of our own formulas: a reminder for the bench, nothing to take in."""
    if mark is None:
        return frozenset()
    heads = next(_rows(book, name), ())
    return frozenset(j for j, cell in enumerate(heads) if _cell(cell).text in mark.computed)


def _check_packing(data: bytes, source: str) -> None:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            size = sum(member.file_size for member in packed.infolist())
    except zipfile.BadZipFile:
        raise _no_workbook(source) from None
    if size > UNPACKED_AT_MOST:
        raise FileError(
            f"The workbook unfolds to {size / 1e6:.0f} MB.",
            why="That is far more than the table of a trial.",
            next_step="Copy the cells of the trial into a new workbook or a CSV file.",
            place=source,
        )


def _opened(data: bytes, source: str, *, data_only: bool) -> Workbook:
    from openpyxl import load_workbook  # noqa: PLC0415 - slow to load, needed for workbooks only

    with warnings.catch_warnings():
        # The reader warns of extensions it skips (filters, validation), none of which are values.
        warnings.simplefilter("ignore")
        try:
            return load_workbook(io.BytesIO(data), read_only=True, data_only=data_only)
        except (KeyError, ValueError, OSError, zipfile.BadZipFile, SyntaxError, TypeError):
            raise _no_workbook(source) from None


def _no_workbook(source: str) -> FileError:
    return FileError(
        "The file is not a readable .xlsx workbook.",
        why="It is damaged, protected by a password, or of another kind.",
        next_step="Open it in a spreadsheet program and save it as .xlsx or CSV (UTF-8).",
        place=source,
    )


def _chosen(book: Workbook, sheet: str | None, source: str) -> tuple[str, tuple[ReceiptLine, ...]]:
    names = [one.title for one in book.worksheets]
    if sheet is not None:
        if sheet not in names:
            raise FileError(
                f"There is no sheet {sheet!r}.",
                why="The rows are read from one sheet.",
                next_step=f"Use --sheet with one of: {', '.join(names)}.",
                place=source,
            )
        return sheet, ()
    filled = [name for name in names if _has_values(book, name)]
    if len(filled) > 1:
        raise FileError(
            f"{len(filled)} sheets hold values: {', '.join(filled)}.",
            why="It cannot be told which of them is meant.",
            next_step=f'Name it: --sheet "{filled[0]}".',
            place=source,
        )
    chosen = filled[0] if filled else names[0] if names else ""
    if not chosen:
        raise _no_workbook(source)
    if len(names) == 1:
        return chosen, ()
    line = ReceiptLine(
        where=source,
        met=f"{len(names)} sheets, one with values",
        understood=f"the sheet {chosen!r} is read",
    )
    return chosen, (line,)


def _has_values(book: Workbook, name: str) -> bool:
    return any(not _cell(cell).is_empty for row in _rows(book, name) for cell in row)


def _rows(book: Workbook, name: str) -> Iterator[tuple[Any, ...]]:
    sheet = book[name]
    # A stored extent can be wrong and would cut the table short without a word.
    sheet.reset_dimensions()
    yield from sheet.iter_rows(max_col=COLUMNS_AT_MOST)


def _check_calculated(value: Any, formula: Any, place: str) -> None:
    if formula.data_type == "f" and value.value is None:
        raise FileError(
            f"The formula in cell {formula.coordinate} was never calculated.",
            why="Its value is not in the file.",
            next_step="Open the workbook in a spreadsheet program, let it calculate, and save.",
            place=place,
        )


def _check_rows(n_rows: int, place: str) -> None:
    if n_rows > ROWS_AT_MOST + 1000:
        raise FileError(
            f"The sheet has more than {ROWS_AT_MOST} rows.",
            why="A trial is far smaller.",
            next_step="Copy the rows of this trial into a sheet of their own.",
            place=place,
        )


def _formula_line(place: str, count: int) -> ReceiptLine:
    return ReceiptLine(
        where=place,
        met=f"{count} cells with formulas" if count > 1 else "a cell with a formula",
        understood="their last calculated values are taken",
        sure=False,
    )


def _cell(cell: Any) -> Cell:
    value = cell.value
    if value is None:
        return EMPTY
    if isinstance(value, bool):
        return Cell("TRUE" if value else "FALSE")
    if isinstance(value, int | float):
        return _number_cell(value, str(getattr(cell, "number_format", "") or ""))
    if isinstance(value, datetime | date | time):
        return Cell(value.isoformat())
    return Cell(str(value).strip())


def _number_cell(value: float, number_format: str) -> Cell:
    if "%" in number_format:
        # The sheet shows 45 % where the file holds 0.45.
        return Cell(f"{(Decimal(repr(value)) * 100).normalize():f}%")
    return Cell(f"{value:.15g}" if float(value) == float(f"{value:.15g}") else repr(value), value)
