"""The second sheet of the run-sheet workbook: what must be known before the first run."""

from __future__ import annotations

from typing import TYPE_CHECKING

from openpyxl.styles import Alignment, Border, Font, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation

from workbench.define.cautions import DEFERRAL, cautions_for
from workbench.define.hazards import hazards_of
from workbench.files import sheet_look as look
from workbench.files.headings import with_unit
from workbench.files.shown_values import shown_setting
from workbench.plan.starting import dry_run, stopping_rule

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

    from workbench.define.trial import Trial
    from workbench.plan.plans import Plan

WIDTH = 92.0  # letters across
TICK_WIDTH = 7.0
TICK = "✓"
_FAILS = Side(style="thick", color="FFC8450F")
_HOW = (
    "Runs are made top to bottom, in the order of the sheet; it was drawn by lot. Bold: change "
    "this setting. Grey: leave it. An as-run cell is filled in only where the setting differs "
    "from the plan. Marks: bold on orange is outside the gauge, the range or the list; italic on "
    "violet is off plan; struck through does not count. Never guess a value: leave it empty and "
    "say why."
)


def write_before(sheet: Worksheet, trial: Trial, plan: Plan) -> None:
    """Fill the sheet with cautions, held settings, the dry run and the stopping rule."""
    columns = max(2, 1 + len(plan.settings.factors))
    sheet.column_dimensions["A"].width = TICK_WIDTH
    for j in range(2, columns + 1):
        letter = get_column_letter(j)
        sheet.column_dimensions[letter].width = (WIDTH - TICK_WIDTH) / (columns - 1)
    page = _Page(sheet, columns)
    page.line(trial.title, bold=True, size=15)
    if trial.invented:
        page.line(trial.invented)
    page.line(_HOW)
    _dry_run(page, plan)
    rule = stopping_rule(trial)
    page.line("When to stop", bold=True)
    page.line(f"{rule.text} ({rule.basis}.)" if rule.basis else rule.text)
    if trial.held:
        page.line("Keep constant", bold=True)
        for held in trial.held:
            page.line(f"{held.name}: {held.value} {held.unit}".rstrip())
    page.line("Cautions", bold=True)
    for one in cautions_for(hazards_of(trial)):
        page.line(f"{one.title}. {one.text} ({one.basis})", warns=True)
    for own in trial.cautions:
        page.line(own, warns=True)
    page.line(DEFERRAL)
    look.protect(sheet)


class _Page:
    """Lines of text from top to bottom, each across all columns."""

    def __init__(self, sheet: Worksheet, columns: int) -> None:
        self.sheet = sheet
        self.columns = columns
        self.row = 0

    def line(
        self, text: str, *, bold: bool = False, size: float = 11, warns: bool = False
    ) -> None:
        """Write one paragraph; `warns` puts a bar before it."""
        self.row += 1
        cell = look.put(self.sheet.cell(self.row, 1), text)
        self.sheet.merge_cells(
            start_row=self.row, end_row=self.row, start_column=1, end_column=self.columns
        )
        cell.alignment = Alignment(wrap_text=True, vertical="bottom" if bold else "top")
        cell.font = Font(name=look.LETTERS, bold=bold, size=size)
        if warns:
            cell.border = Border(left=_FAILS)
        height = look.lines_of(text, WIDTH * 11 / size) * look.LINE * size / 10 + 4
        self.sheet.row_dimensions[self.row].height = height + (8 if bold else 0)


def _dry_run(page: _Page, plan: Plan) -> None:
    asked = dry_run(plan)
    sheet = page.sheet
    page.line("Dry run of the corners", bold=True)
    page.line(asked.text)
    page.row += 1
    factors = plan.settings.factors
    for j, words in enumerate(["made", *(with_unit(f.name, f.unit) for f in factors)], 1):
        look.head(look.put(sheet.cell(page.row, j), words))
    lines = max(
        look.lines_of(with_unit(f.name, f.unit), (WIDTH - TICK_WIDTH) / len(factors) - 2)
        for f in factors
    )
    sheet.row_dimensions[page.row].height = lines * look.LINE + 2
    ticks = DataValidation(type="list", formula1=f'"{TICK}"', allow_blank=True)
    sheet.add_data_validation(ticks)
    for values in asked.corners.values:
        page.row += 1
        sheet.row_dimensions[page.row].height = 19
        box = sheet.cell(page.row, 1)
        look.entry(box)
        ticks.add(box)
        for j, (factor, value) in enumerate(zip(factors, values, strict=True), 2):
            cell = look.put(sheet.cell(page.row, j), shown_setting(factor, float(value)))
            cell.font = Font(name=look.LETTERS, size=11)
            cell.border = Border(bottom=look.HAIR)
            cell.alignment = Alignment(horizontal="left", vertical="center", indent=1)
