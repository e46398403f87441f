"""Workbook tables (.xlsx, .ods): which sheet, exact numbers, last calculated values."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

from workbench.errors import FileError
from workbench.files.ods_table import CONTENT, ods_sheets
from workbench.files.packed import no_workbook, opened
from workbench.files.sheet_mark import HIDDEN, RUNS, mark_in
from workbench.files.xlsx_book import book_in
from workbench.files.xlsx_sheet import xlsx_grid
from workbench.run.receipt import ReceiptLine

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from workbench.files.grid import Grid
    from workbench.files.ods_table import OdsSheet
    from workbench.files.packed import Package
    from workbench.files.sheet_mark import SheetMark

BINARY = "xl/workbook.bin"


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetGrid:
    """The cells of one sheet and its name; `plan` as in `RawTable`."""

    name: str
    grid: Grid
    plan: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sheet:
    name: str
    is_hidden: bool
    read: Callable[[], Grid]


def sheet_grid(data: bytes, *, source: str, sheet: str | None) -> SheetGrid:
    """Return the cells of a sheet: the one named, or the only one in sight that holds any.

    Raises
    ------
    FileError
        If it is no workbook, breaks a limit, or the sheet is not there or not named among several.
    """
    sheets = _sheets(opened(data, source))
    mark = _mark(sheets)
    if sheet is not None or mark is not None:
        chosen = _named(sheets, sheet or RUNS, source)
        grid = chosen.read()
    else:
        read = {one.name: one.read() for one in sheets}
        chosen, lines = _only_filled(sheets, read, source)
        grid = replace(read[chosen.name], lines=lines)
    if mark is not None:
        grid = _without_computed(grid, mark)
    return SheetGrid(name=chosen.name, grid=grid, plan=mark.plan if mark else "")


def _sheets(package: Package) -> tuple[_Sheet, ...]:
    if CONTENT in package.names:
        found = ods_sheets(package)
        return tuple(
            _Sheet(name=one.name, is_hidden=one.is_hidden, read=partial(_grid_of, one))
            for one in found
        )
    if BINARY in package.names:
        raise no_workbook(package.source)
    book = book_in(package)
    return tuple(
        _Sheet(
            name=one.name,
            is_hidden=one.is_hidden,
            read=partial(xlsx_grid, book, one),
        )
        for one in book.sheets
    )


def _grid_of(sheet: OdsSheet) -> Grid:
    return sheet.grid


def _mark(sheets: Sequence[_Sheet]) -> SheetMark | None:
    by_name = {one.name: one for one in sheets}
    return mark_in(by_name[HIDDEN].read()) if {RUNS, HIDDEN} <= set(by_name) else None


def _named(sheets: Sequence[_Sheet], name: str, source: str) -> _Sheet:
    for one in sheets:
        if one.name == name:
            return one
    raise FileError(
        f"There is no sheet {name!r}.",
        why="The rows are read from one sheet.",
        next_step=f"Use --sheet with one of: {', '.join(one.name for one in sheets)}.",
        place=source,
    )


def _only_filled(
    sheets: Sequence[_Sheet], read: dict[str, Grid], source: str
) -> tuple[_Sheet, tuple[ReceiptLine, ...]]:
    filled = [one for one in sheets if any(map(any, read[one.name].texts))]
    in_sight = [one for one in filled if not one.is_hidden] or filled
    if len(in_sight) > 1:
        names = [one.name for one in in_sight]
        raise FileError(
            f"{len(names)} sheets hold values: {', '.join(names)}.",
            why="It cannot be told which of them is meant.",
            next_step=f'Name it: --sheet "{names[0]}".',
            place=source,
        )
    chosen = in_sight[0] if in_sight else sheets[0]
    lines = [
        ReceiptLine(
            where=f"{source}, sheet {one.name!r}",
            met="a hidden sheet with values",
            understood="left out",
            sure=False,
        )
        for one in filled
        if one is not chosen
    ]
    if len(sheets) > 1:
        first = ReceiptLine(
            where=source,
            met=f"{len(sheets)} sheets, one with values" + (" in sight" if lines else ""),
            understood=f"the sheet {chosen.name!r} is read",
        )
        lines.insert(0, first)
    return chosen, tuple(lines)


def _without_computed(grid: Grid, mark: SheetMark) -> Grid:
    """Empty the columns of our own formulas: a reminder for the bench, nothing to take in."""
    heads = grid.texts[0] if grid.texts else []
    ours = frozenset(j for j, text in enumerate(heads) if text in mark.computed)
    for row in grid.texts[1:]:
        for j in ours:
            if j < len(row):
                row[j] = ""
    return replace(
        grid,
        formulas=frozenset(at for at in grid.formulas if at.column not in ours),
        uncalculated=frozenset(at for at in grid.uncalculated if at.column not in ours),
    )
