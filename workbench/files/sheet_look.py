"""How the run sheet as a workbook looks: letters, borders, paper, what is locked."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.styles import Alignment, Border, Font, PatternFill, Protection, Side
from openpyxl.worksheet.properties import PageSetupProperties

from workbench.files.headings import guarded

if TYPE_CHECKING:
    from openpyxl.cell.cell import Cell
    from openpyxl.worksheet.worksheet import Worksheet

HAIR = Side(style="thin", color="FFDCD8CF")
BOX = Side(style="thin", color="FF7C858C")
PANEL = PatternFill("solid", fgColor="FFF6F4EF")
LETTERS = "Calibri"
QUIET = "FF566069"
INK = "FF1B252D"
UPRIGHT = 130  # letters across that A4 upright still shows at three quarters of their size
LINE = 13.5  # points
# Right-aligned cells have none: LibreOffice 7.4 applies it to some rows only.
INDENT = {"left": 1, "right": 0}
MARGIN, FOOT = 0.4, 0.65  # inches


def clean(text: str) -> str:
    """Return text without the control characters that no workbook can hold."""
    return str(ILLEGAL_CHARACTERS_RE.sub("", text))


def put(cell: Cell, value: float | str) -> Cell:
    """Put a value into a cell; text stays text, whatever it begins with."""
    if isinstance(value, str):
        cell.value = guarded(clean(value))
        cell.data_type = "s"
    elif float(value).is_integer() and abs(value) < 1e15:
        cell.value = int(value)
    else:
        cell.value = float(value)
    return cell


def head(cell: Cell, *, side: str = "left") -> None:
    """Dress a heading."""
    cell.font = Font(name=LETTERS, bold=True, size=9, color=INK)
    cell.fill = PANEL
    cell.alignment = Alignment(
        wrap_text=True, vertical="bottom", horizontal=side, indent=INDENT[side]
    )
    cell.border = Border(bottom=Side(style="medium", color=INK))


def planned(cell: Cell, *, is_new: bool) -> None:
    """Dress a planned cell: bold where it changes from the run before, grey where it stays."""
    cell.font = Font(name=LETTERS, size=11, bold=is_new, color=INK if is_new else QUIET)
    cell.fill = PANEL
    cell.border = Border(bottom=HAIR)


def entry(cell: Cell) -> None:
    """Dress a cell to fill in and unlock it."""
    cell.border = Border(left=BOX, right=BOX, top=BOX, bottom=BOX)
    cell.protection = Protection(locked=False)
    cell.font = Font(name=LETTERS, size=11)
    cell.alignment = Alignment(vertical="center", wrap_text=True)


def lines_of(text: str, width: float) -> int:
    """Return how many lines a text takes in a column that many letters wide."""
    return sum(max(1, math.ceil(1.1 * len(one) / width)) for one in text.split("\n"))


def protect(sheet: Worksheet) -> None:
    """Lock all but the entry cells, without a password; widths and heights may be changed."""
    sheet.protection.sheet = True
    sheet.protection.formatColumns = False
    sheet.protection.formatRows = False


def on_paper(sheet: Worksheet, *, letters: float, title: str, foot: str, top: str = "") -> None:
    """Set a sheet up for A4, as wide as the paper, with a footer; wide sheets lie down."""
    sheet.page_setup.paperSize = sheet.PAPERSIZE_A4
    sheet.page_setup.orientation = "landscape" if letters > UPRIGHT else "portrait"
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    sheet.page_margins.left = sheet.page_margins.right = sheet.page_margins.top = MARGIN
    sheet.page_margins.bottom, sheet.page_margins.footer = FOOT, MARGIN / 2
    sheet.oddFooter.left.text = _paper(title)
    sheet.oddFooter.center.text = _paper(foot)
    sheet.oddFooter.right.text = "page &P of &N"
    if top:
        sheet.page_margins.top, sheet.page_margins.header = FOOT, MARGIN / 2
        sheet.oddHeader.left.text = _paper(top, most=150)


def _paper(text: str, most: int = 90) -> str:
    """Return text for a header or footer, where & begins a code and 255 letters are the end."""
    flat = " ".join(clean(text).split())
    short = flat if len(flat) <= most else f"{flat[: most - 1]}…"
    return short.replace("&", "&&")
