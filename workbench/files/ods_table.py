"""Sheets of an open document spreadsheet (.ods).

Element and attribute names are those of the open standard ISO/IEC 26300-1 (ODF 1.2).
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from workbench.files.grid import At, Span
from workbench.files.limits import (
    COLUMNS_AT_MOST,
    SHEET_ROWS_AT_MOST,
    too_many_columns,
    too_many_rows,
)
from workbench.files.number_formats import (
    NumberFormat,
    Shown,
    plain_text,
    shown_text,
    time_text,
)
from workbench.files.packed import no_workbook
from workbench.files.sheet_cells import SheetCells
from workbench.files.xml_events import listen, local

if TYPE_CHECKING:
    from collections.abc import Mapping

    from workbench.files.grid import Grid
    from workbench.files.packed import Package

CONTENT = "content.xml"
HIDDEN = ("collapse", "filter")
SHARE = NumberFormat(shown=Shown.SHARE)
_TIME = re.compile(r"PT(?:([0-9]{1,6})H)?(?:([0-9]{1,6})M)?(?:([0-9]{1,6}(?:[.,][0-9]+)?)S)?")
_FAR = 1_048_576


@dataclass(frozen=True, slots=True, kw_only=True)
class OdsSheet:
    """A sheet of an .ods workbook."""

    name: str
    is_hidden: bool
    grid: Grid


def ods_sheets(package: Package) -> tuple[OdsSheet, ...]:
    """Return all sheets of an .ods workbook.

    Raises
    ------
    FileError
        If it is damaged, protected by a password, or breaks a limit.
    """
    listener = _Content(source=package.source)
    listen(package, CONTENT, listener)
    if not listener.sheets:
        raise no_workbook(package.source)
    return tuple(
        OdsSheet(name=one.name, is_hidden=one.is_hidden, grid=one.cells.grid())
        for one in listener.sheets
    )


@dataclass(slots=True)
class _Sheet:
    name: str
    is_hidden: bool
    cells: SheetCells
    n_columns: int = 0


@dataclass(slots=True, kw_only=True)
class _Cell:
    """A cell as it is being read, with how often it is repeated."""

    values: Mapping[str, str]
    pieces: list[str] = field(default_factory=list)
    n_paragraphs: int = 0


@dataclass(slots=True)
class _Content:
    source: str
    sheets: list[_Sheet] = field(default_factory=list)
    struck_styles: set[str] = field(default_factory=set)
    hidden_styles: set[str] = field(default_factory=set)
    style: str = ""
    row: int = 0
    column: int = 0
    row_repeats: int = 1
    cell: _Cell | None = None
    in_note: int = 0
    in_paragraph: int = 0
    in_table: int = 0
    filled: list[_Put] = field(default_factory=list)

    def start(self, name: str, values: Mapping[str, str]) -> None:
        step = _STARTS.get(name)
        if step is not None:
            step(self, values)

    def end(self, name: str) -> None:
        step = _ENDS.get(name)
        if step is not None:
            step(self)

    def text(self, text: str) -> None:
        if self.in_paragraph and not self.in_note and self.cell is not None:
            self.cell.pieces.append(text)

    def start_style(self, values: Mapping[str, str]) -> None:
        self.style = local(values, "name")

    def start_text_properties(self, values: Mapping[str, str]) -> None:
        line = local(values, "text-line-through-style") or local(values, "text-line-through-type")
        if line not in ("", "none"):
            self.struck_styles.add(self.style)

    def start_table_properties(self, values: Mapping[str, str]) -> None:
        if local(values, "display") == "false":
            self.hidden_styles.add(self.style)

    def start_table(self, values: Mapping[str, str]) -> None:
        self.in_table += 1
        if self.in_table > 1:
            return
        name = local(values, "name")
        cells = SheetCells(place=f"{self.source}, sheet {name!r}")
        is_hidden = local(values, "style-name") in self.hidden_styles
        self.sheets.append(_Sheet(name=name, is_hidden=is_hidden, cells=cells))
        self.row = 0

    def end_table(self) -> None:
        self.in_table -= 1

    def start_column(self, values: Mapping[str, str]) -> None:
        sheet = self._sheet()
        repeats = self._repeats(values, "number-columns-repeated")
        if local(values, "visibility") in HIDDEN and sheet.n_columns < COLUMNS_AT_MOST:
            last = min(sheet.n_columns + repeats, COLUMNS_AT_MOST)
            sheet.cells.hidden_columns.update(range(sheet.n_columns, last))
        sheet.n_columns += repeats

    def start_row(self, values: Mapping[str, str]) -> None:
        self.row_repeats = self._repeats(values, "number-rows-repeated")
        self.column = 0
        self.filled = []
        if local(values, "visibility") in HIDDEN:
            last = min(self.row + self.row_repeats, SHEET_ROWS_AT_MOST)
            self._sheet().cells.hidden_rows.update(range(self.row, last))

    def end_row(self) -> None:
        cells = self._sheet().cells
        if self.filled and self.row + self.row_repeats > SHEET_ROWS_AT_MOST:
            raise too_many_rows(cells.place)
        for row in range(self.row, self.row + self.row_repeats) if self.filled else ():
            for put in self.filled:
                put.into(cells, row)
        self.row += self.row_repeats

    def start_cell(self, values: Mapping[str, str]) -> None:
        self.cell = _Cell(values=values)

    def end_cell(self) -> None:
        cell = self.cell
        self.cell = None
        if cell is None:
            return
        repeats = self._repeats(cell.values, "number-columns-repeated")
        put = self._put(cell)
        if put is not None:
            if self.column + repeats > COLUMNS_AT_MOST:
                raise too_many_columns(self._sheet().cells.place)
            self.filled += [put.at(self.column + i) for i in range(repeats)]
            self._merge(cell.values)
        self.column += repeats

    def start_paragraph(self, _values: Mapping[str, str]) -> None:
        self.in_paragraph += 1
        if self.cell is not None and not self.in_note:
            if self.cell.n_paragraphs:
                self.cell.pieces.append("\n")
            self.cell.n_paragraphs += 1

    def end_paragraph(self) -> None:
        self.in_paragraph -= 1

    def start_note(self, _values: Mapping[str, str]) -> None:
        self.in_note += 1

    def end_note(self) -> None:
        self.in_note -= 1

    def start_blanks(self, values: Mapping[str, str]) -> None:
        if self.in_paragraph and not self.in_note and self.cell is not None:
            self.cell.pieces.append(" " * min(self._repeats(values, "c"), 1_000))

    def _put(self, cell: _Cell) -> _Put | None:
        text = "".join(cell.pieces).strip()
        number = None
        kind = local(cell.values, "value-type")
        value = _finite(local(cell.values, "value"))
        if kind in ("float", "currency") and value is not None:
            text, number = plain_text(value), value
        elif kind == "percentage" and value is not None:
            text = shown_text(value, SHARE, from_1904=False)
            number = float(text[:-1])
        else:
            text = _dated(kind, cell.values) or text
        has_formula = bool(local(cell.values, "formula"))
        if not text and not has_formula:
            return None
        return _Put(
            text=text,
            number=number,
            is_struck=local(cell.values, "style-name") in self.struck_styles,
            has_formula=has_formula,
            is_calculated=bool(text) or kind == "string",
        )

    def _merge(self, values: Mapping[str, str]) -> None:
        wide = self._repeats(values, "number-columns-spanned")
        high = self._repeats(values, "number-rows-spanned")
        if wide * high > 1:
            span = Span(
                top=self.row,
                left=self.column,
                bottom=self.row + high - 1,
                right=self.column + wide - 1,
            )
            self._sheet().cells.merged.append(span)

    def _sheet(self) -> _Sheet:
        if not self.sheets:
            raise no_workbook(self.source)
        return self.sheets[-1]

    def _repeats(self, values: Mapping[str, str], name: str) -> int:
        said = local(values, name)
        if not said:
            return 1
        if not (said.isascii() and said.isdigit() and len(said) < 9 and 0 < int(said) <= _FAR):
            raise no_workbook(self.source)
        return int(said)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Put:
    """A cell that is not empty, ready to be put into each row that it is repeated in."""

    text: str
    number: float | None
    is_struck: bool
    has_formula: bool
    is_calculated: bool
    column: int = 0

    def at(self, column: int) -> _Put:
        return _Put(
            text=self.text,
            number=self.number,
            is_struck=self.is_struck,
            has_formula=self.has_formula,
            is_calculated=self.is_calculated,
            column=column,
        )

    def into(self, cells: SheetCells, row: int) -> None:
        cells.put(row, self.column, self.text, number=self.number)
        if self.is_struck:
            cells.struck.add(At(row, self.column))
        if self.has_formula:
            cells.formulas.add(At(row, self.column))
        if not self.is_calculated:
            cells.uncalculated.add(At(row, self.column))


def _finite(text: str) -> float | None:
    try:
        value = float(text)
    except ValueError:
        return None
    return value if math.isfinite(value) and "_" not in text else None


def _dated(kind: str, values: Mapping[str, str]) -> str:
    if kind == "date":
        return local(values, "date-value").removesuffix("T00:00:00")
    if kind == "boolean":
        return "TRUE" if local(values, "boolean-value") == "true" else "FALSE"
    found = _TIME.fullmatch(local(values, "time-value")) if kind == "time" else None
    if found is None:
        return ""
    hours, minutes, seconds = (float((one or "0").replace(",", ".")) for one in found.groups())
    return time_text(hours * 3600 + minutes * 60 + seconds)


_STARTS = {
    "style": _Content.start_style,
    "text-properties": _Content.start_text_properties,
    "table-properties": _Content.start_table_properties,
    "table": _Content.start_table,
    "table-column": _Content.start_column,
    "table-row": _Content.start_row,
    "table-cell": _Content.start_cell,
    "covered-table-cell": _Content.start_cell,
    "p": _Content.start_paragraph,
    "annotation": _Content.start_note,
    "s": _Content.start_blanks,
}
_ENDS = {
    "table": _Content.end_table,
    "table-row": _Content.end_row,
    "table-cell": _Content.end_cell,
    "covered-table-cell": _Content.end_cell,
    "p": _Content.end_paragraph,
    "annotation": _Content.end_note,
}
