"""The cells of one sheet of a workbook (.xlsx), with merged, hidden and crossed-out ones.

Element and attribute names are those of the open standard ISO/IEC 29500-1.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from workbench.files.grid import At, Span, column_number
from workbench.files.limits import COLUMNS_AT_MOST, SHEET_ROWS_AT_MOST, too_many_rows
from workbench.files.number_formats import Shown, is_number, plain_text, shown_text
from workbench.files.packed import no_workbook
from workbench.files.sheet_cells import SheetCells
from workbench.files.xlsx_book import PLAIN_STYLE, TRUE
from workbench.files.xml_events import listen

if TYPE_CHECKING:
    from collections.abc import Mapping

    from workbench.files.grid import Grid
    from workbench.files.xlsx_book import Book, CellStyle, SheetName

MERGES_AT_MOST = 20_000
_RANGE = re.compile(r"\$?([A-Z]{1,3})\$?([0-9]{1,7})(?::\$?([A-Z]{1,3})\$?([0-9]{1,7}))?")


def xlsx_grid(book: Book, sheet: SheetName) -> Grid:
    """Return the cells of a sheet as they were last calculated.

    Raises
    ------
    FileError
        If the sheet is damaged or breaks a limit.
    """
    place = f"{book.package.source}, sheet {sheet.name!r}"
    listener = _Cells(book=book, cells=SheetCells(place=place))
    listen(book.package, sheet.part, listener)
    return listener.cells.grid()


@dataclass(slots=True)
class _Cells:
    book: Book
    cells: SheetCells
    row: int = -1
    column: int = -1
    kind: str = "n"
    style: CellStyle = PLAIN_STYLE
    has_formula: bool = False
    hears: bool = False
    said: list[str] = field(default_factory=list)
    columns: dict[str, int] = field(default_factory=dict)

    def start(self, name: str, values: Mapping[str, str]) -> None:
        if name == "c":
            self._start_cell(values)
        elif name in ("v", "t"):
            self.hears = True
        elif name == "row":
            self._start_row(values)
        elif name == "f":
            self.has_formula = True
        elif name == "rPh":
            self.kind = "aid"
        elif name == "mergeCell":
            self._merge(values.get("ref", ""))
        elif name == "col" and values.get("hidden") in TRUE:
            first, last = (self._counted(values.get(key, "")) for key in ("min", "max"))
            self.cells.hidden_columns.update(range(first - 1, min(last, COLUMNS_AT_MOST)))

    def end(self, name: str) -> None:
        if name in ("v", "t"):
            self.hears = False
        elif name == "c":
            self._end_cell()

    def text(self, text: str) -> None:
        if self.hears and self.kind != "aid":
            self.said.append(text)

    def _start_row(self, values: Mapping[str, str]) -> None:
        number = values.get("r")
        self.row = self._counted(number) - 1 if number else self.row + 1
        self.column = -1
        if values.get("hidden") in TRUE and self.row < SHEET_ROWS_AT_MOST:
            self.cells.hidden_rows.add(self.row)

    def _start_cell(self, values: Mapping[str, str]) -> None:
        name = values.get("r")
        if name:
            letters = name.rstrip("0123456789")
            column = self.columns.get(letters)
            if column is None:
                column = self.columns[letters] = self._column(letters)
            self.column = column
        else:
            self.column += 1
        self.kind = values.get("t", "n")
        style = values.get("s")
        self.style = self._style(style) if style else PLAIN_STYLE
        self.has_formula = False
        self.said = []

    def _end_cell(self) -> None:
        said = "".join(self.said)
        if self.has_formula:
            self._note_formula(said)
        if not said:
            return
        if self.kind == "n":
            self._put_number(said)
            return
        text = self._text(said)
        if text:
            self.cells.put(self.row, self.column, text)
            self._note_struck()

    def _put_number(self, said: str) -> None:
        try:
            value = float(said)
        except ValueError:
            value = math.nan
        if "_" in said or not math.isfinite(value):
            self.cells.put(self.row, self.column, said.strip() or "?")
            return
        shown = self.style.format
        if shown.shown is Shown.NUMBER and not shown.unit:
            text = plain_text(value)
        else:
            text = shown_text(value, shown, from_1904=self.book.from_1904)
        number = value if shown.shown is not Shown.SHARE else float(text[:-1])
        kept = number if is_number(value, shown) else None
        self.cells.put(self.row, self.column, text, number=kept)
        self._note_struck()

    def _text(self, said: str) -> str:
        if self.kind == "s":
            return self._shared(said)
        if self.kind == "b":
            return "TRUE" if said.strip() in TRUE else "FALSE"
        return said.strip()

    def _shared(self, said: str) -> str:
        texts = self.book.shared.texts
        number = int(said) if said.isascii() and said.isdigit() and len(said) < 10 else len(texts)
        if number >= len(texts):
            raise no_workbook(self.book.package.source)
        if number in self.book.shared.struck:
            self.cells.struck.add(At(self.row, self.column))
        return texts[number]

    def _note_formula(self, said: str) -> None:
        at = At(self.row, self.column)
        self.cells.formulas.add(at)
        if not said and self.kind != "str":
            self.cells.uncalculated.add(at)
            self.cells.put(self.row, self.column, "")

    def _note_struck(self) -> None:
        if self.style.is_struck:
            self.cells.struck.add(At(self.row, self.column))

    def _style(self, number: str) -> CellStyle:
        place = self._counted(number)
        styles = self.book.styles
        return styles[place] if place < len(styles) else PLAIN_STYLE

    def _column(self, letters: str) -> int:
        if not (letters.isascii() and letters.isalpha() and len(letters) <= 3):
            raise no_workbook(self.book.package.source)
        return column_number(letters)

    def _counted(self, text: str) -> int:
        if not (text.isascii() and text.isdigit() and len(text) < 9):
            raise no_workbook(self.book.package.source)
        return int(text)

    def _merge(self, reference: str) -> None:
        found = _RANGE.fullmatch(reference)
        if found is None or found[3] is None:
            return
        if len(self.cells.merged) >= MERGES_AT_MOST:
            raise too_many_rows(self.cells.place)
        span = Span(
            top=int(found[2]) - 1,
            left=column_number(found[1]),
            bottom=int(found[4]) - 1,
            right=column_number(found[3]),
        )
        self.cells.merged.append(span)
