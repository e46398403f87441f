"""Lines of a workbook page from top to bottom: headings, paragraphs, table rows, boxes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from openpyxl.styles import Alignment, Border, Font, Side
from openpyxl.utils import get_column_letter

from workbench.files import sheet_look as look

if TYPE_CHECKING:
    from openpyxl.cell.cell import Cell
    from openpyxl.worksheet.worksheet import Worksheet

WARNS = Side(style="thick", color="FFC8450F")
SIZE = 10.0  # points
ROOM = 20.0  # points: a box to write in by hand


class Lines:
    """A sheet that is filled from the top; every text goes through the guard of `look.put`."""

    def __init__(self, sheet: Worksheet, widths: tuple[float, ...]) -> None:
        self.sheet = sheet
        self.widths = widths
        self.at = 0
        for j, width in enumerate(widths, 1):
            sheet.column_dimensions[get_column_letter(j)].width = width

    def heading(self, words: str, *, size: float = 11.5) -> None:
        """Write a heading across the page."""
        self._across(words, bold=True, size=size, above=8)

    def text(self, words: str, *, warns: bool = False) -> None:
        """Write a paragraph across the page; `warns` puts a bar before it."""
        cell = self._across(words, bold=False, size=SIZE, above=0)
        if warns:
            cell.border = Border(left=WARNS)

    def head(self, *words: str) -> None:
        """Write the headings of a table."""
        self.at += 1
        for j, one in enumerate(words, 1):
            look.head(look.put(self.sheet.cell(self.at, j), one))
        self._fit([(j, j, one) for j, one in enumerate(words, 1)])

    def head_over(self, *pieces: tuple[int, int, str]) -> None:
        """Write headings that each take the columns from first to last."""
        self.at += 1
        words = {first: (last, one) for first, last, one in pieces}
        for j in range(1, len(self.widths) + 1):
            look.head(look.put(self.sheet.cell(self.at, j), words.get(j, (j, ""))[1]))
        for first, (last, _) in words.items():
            self._merge(first, last)
        self._fit(list(pieces))

    def row(self, *values: float | str, blanks: tuple[int, ...] = ()) -> None:
        """Write a row of a table; `blanks` are the columns, from 1, that are boxes to fill in."""
        self.at += 1
        for j, one in enumerate(values, 1):
            cell = look.put(self.sheet.cell(self.at, j), one)
            _dress(cell, is_name=j == 1)
            if j in blanks:
                look.entry(cell)
        shown = [(j, j, one) for j, one in enumerate(values, 1) if isinstance(one, str)]
        self._fit(shown, least=ROOM if blanks else 0)

    def spread(self, *pieces: tuple[int, int, str]) -> None:
        """Write one row of texts that each take the columns from first to last."""
        self.at += 1
        for first, last, words in pieces:
            _dress(look.put(self.sheet.cell(self.at, first), words), is_name=first == 1)
            self._merge(first, last)
        self._fit(list(pieces))

    def blank(self, words: str) -> None:
        """Write words and an open box beside them."""
        self.at += 1
        _dress(look.put(self.sheet.cell(self.at, 1), words), is_name=False)
        for j in range(2, len(self.widths) + 1):
            look.entry(self.sheet.cell(self.at, j))
        self._merge(2, len(self.widths))
        self._fit([(1, 1, words)], least=ROOM)

    def _across(self, words: str, *, bold: bool, size: float, above: float) -> Cell:
        self.at += 1
        cell = look.put(self.sheet.cell(self.at, 1), words)
        cell.font = Font(name=look.LETTERS, bold=bold, size=size, color=look.INK)
        cell.alignment = Alignment(wrap_text=True, vertical="bottom" if bold else "top")
        last = len(self.widths)
        self._merge(1, last)
        height = look.lines_of(words, sum(self.widths) * 11 / size) * look.LINE * size / SIZE
        self.sheet.row_dimensions[self.at].height = height + 3 + above
        return cell

    def _merge(self, first: int, last: int) -> None:
        if first < last:
            self.sheet.merge_cells(
                start_row=self.at, end_row=self.at, start_column=first, end_column=last
            )

    def _fit(self, pieces: list[tuple[int, int, str]], *, least: float = 0) -> None:
        heights = [
            look.lines_of(words, sum(self.widths[first - 1 : last]) - 2)
            for first, last, words in pieces
        ]
        height = max([1, *heights]) * look.LINE + 4
        self.sheet.row_dimensions[self.at].height = max(height, least)


def _dress(cell: Cell, *, is_name: bool) -> None:
    side = "left" if isinstance(cell.value, str) else "right"
    cell.font = Font(name=look.LETTERS, size=SIZE, bold=is_name, color=look.INK)
    cell.border = Border(bottom=look.HAIR)
    cell.alignment = Alignment(wrap_text=True, vertical="top", horizontal=side)
    if not isinstance(cell.value, str) and cell.value is not None:
        cell.number_format = _number_format(float(cell.value))


def _number_format(value: float) -> str:
    decimals = len(f"{value:.6f}".rstrip("0").partition(".")[2])
    return f"0.{'0' * decimals}" if decimals else "0"
