"""What a spreadsheet program checks and marks in an entry cell of the run sheet."""

from __future__ import annotations

from typing import TYPE_CHECKING

from openpyxl.formatting.rule import FormulaRule
from openpyxl.styles import Font, PatternFill
from openpyxl.worksheet.datavalidation import DataValidation

from workbench.files.sheet_look import clean

if TYPE_CHECKING:
    from workbench.files.sheet_columns import SheetColumn

LONGEST_TITLE, LONGEST_TEXT = 32, 250  # letters that a spreadsheet program shows of a message
OUTSIDE = {
    "fill": PatternFill("solid", bgColor="FFF6D9C9"),
    "font": Font(bold=True, color="FFA33508"),
}
DIFFERS = {
    "fill": PatternFill("solid", bgColor="FFE4DEF3"),
    "font": Font(italic=True, bold=True, color="FF4B46A8"),
}
STRUCK = {"font": Font(strike=True, color="FF566069")}


def validation(column: SheetColumn, *, cell: str, listed: str) -> DataValidation | None:
    """Return the check of an entry column; `cell` is its first cell, `listed` its list's range.

    Words are held to the list. A number outside its bounds asks back but may stand: what was seen
    must never be bent to fit a limit.
    """
    asks = {"allow_blank": True, "showInputMessage": True, "showErrorMessage": True}
    if column.choice:
        found = DataValidation(type="list", formula1=listed, errorStyle="stop", **asks)
        found.error = f"Choose one of the list: {', '.join(column.choice)}."[:LONGEST_TEXT]
    elif column.kind == "count":
        found = DataValidation(
            type="custom", formula1=f"AND({_is_whole(column, cell)})", errorStyle="stop", **asks
        )
        found.error = column.hint[:LONGEST_TEXT]
    elif column.kind in ("as run", "reading"):
        found = DataValidation(
            type="custom", formula1=_is_usual(column, cell), errorStyle="warning", **asks
        )
        found.error = _asks_back(column)[:LONGEST_TEXT]
    elif column.kind == "moment":
        found = DataValidation(
            type="custom", formula1=f"ISNUMBER({cell})", errorStyle="warning", **asks
        )
        found.error = "This is no date and time, so the time to test cannot be computed."
    elif column.hint:
        found = DataValidation(**asks)
    else:
        return None
    found.errorTitle = found.promptTitle = clean(column.heading)[:LONGEST_TITLE]
    found.prompt = clean(column.hint)[:LONGEST_TEXT] or None
    found.error = clean(found.error or "") or None
    return found


def marks(column: SheetColumn, *, cell: str, planned: str, listed: str) -> list[FormulaRule]:
    """Return the conditional marks of a column; `planned` is the planned cell of the same row."""
    rules = []
    if column.choice:
        absent = f"AND(NOT(ISBLANK({cell})),ISNA(MATCH({cell},{listed},0)))"
        rules.append(FormulaRule(formula=[absent], **OUTSIDE))
    if column.kind == "count":
        wrong = f"AND(NOT(ISBLANK({cell})),NOT(AND({_is_whole(column, cell)})))"
        rules.append(FormulaRule(formula=[wrong], **OUTSIDE))
    if column.kind in ("as run", "reading"):
        wrong = f"AND(NOT(ISBLANK({cell})),NOT({_is_usual(column, cell)}))"
        rules.append(FormulaRule(formula=[wrong], **OUTSIDE))
    if planned:
        differs = f"AND(NOT(ISBLANK({cell})),{cell}<>{planned})"
        rules.append(FormulaRule(formula=[differs], **DIFFERS))
    return rules


def struck(status: str) -> FormulaRule:
    """Return the mark of a whole run that does not count; `status` is its status cell."""
    return FormulaRule(formula=[f'OR({status}="failed",{status}="excluded")'], **STRUCK)


def _is_whole(column: SheetColumn, cell: str) -> str:
    # IF, not AND: AND would compute INT of a text and fail instead of saying no.
    whole = f"IF(ISNUMBER({cell}),AND({cell}=INT({cell}),{cell}>=0),FALSE)"
    return whole if column.high is None else f"{whole},{cell}<={_number(column.high)}"


def _is_usual(column: SheetColumn, cell: str) -> str:
    bounds = [f"{cell}>={_number(column.low)}"] if column.low is not None else []
    bounds += [f"{cell}<={_number(column.high)}"] if column.high is not None else []
    bounds += [f"{cell}>0"] if column.above_zero else []
    number = f"AND(ISNUMBER({cell}){''.join(f',{one}' for one in bounds)})"
    if column.kind == "as run":
        return number
    return f'OR({number},LEFT({cell},1)="<",LEFT({cell},1)=">")'


def _asks_back(column: SheetColumn) -> str:
    ends = [f"from {column.low:g}"] if column.low is not None else []
    ends += [f"up to {column.high:g}"] if column.high is not None else []
    usual = f"Usual is a number {' '.join(ends)}. " if ends else "Usual is a number. "
    return f"{usual}{column.hint if column.kind == 'reading' else ''} Is it what was seen?"


def _number(value: float) -> str:
    return f"{float(value):.15G}"
