"""The run sheet as a workbook: checked on entry, locked where it is planned, set up for paper."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from openpyxl import Workbook
from openpyxl.styles import Alignment
from openpyxl.utils import get_column_letter

from workbench.files import sheet_look as look
from workbench.files.atomic import write_bytes_atomically
from workbench.files.plan_files import plan_digest
from workbench.files.sheet_before import WIDTH, write_before
from workbench.files.sheet_columns import columns_for
from workbench.files.sheet_mark import BEFORE, COMPUTED, HIDDEN, MADE_AT, PLAN, RUNS, short_digest
from workbench.files.sheet_rules import marks, struck, validation

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from openpyxl.worksheet.worksheet import Worksheet

    from workbench.define.trial import Trial
    from workbench.files.sheet_columns import SheetColumn
    from workbench.plan.plans import Plan

NAME = "run_sheet.xlsx"
DATE = "yyyy-mm-dd hh:mm"
WIDTHS = {"moment": 18.0, "computed": 18.0, "text": 10.0}
NARROW, WIDE, NOTES = 9.0, 16.0, 20.0  # letters
ROW = 21.0  # points: room to write by hand


def write_sheet_xlsx(folder: Path, trial: Trial, plan: Plan, *, digest: str = "") -> Path:
    """Write run_sheet.xlsx into the folder, whole or not at all, and return its path."""
    path = folder / NAME
    write_bytes_atomically(path, sheet_bytes(trial, plan, digest=digest))
    return path


def sheet_bytes(trial: Trial, plan: Plan, *, digest: str = "") -> bytes:
    """Return the workbook: the runs, what to know before them, and a hidden sheet.

    Row 1 of the runs holds the headings that `take` understands. The hidden sheet holds the
    digest of the plan (`digest`, where these are but the later runs of it), by which a sheet of
    another plan is refused, and the lists to choose from.
    """
    digest = digest or plan_digest(plan)
    columns = columns_for(trial, plan)
    book = Workbook()
    runs = book.active
    runs.title = RUNS
    before, hidden = book.create_sheet(BEFORE), book.create_sheet(HIDDEN)
    hidden.sheet_state = "hidden"
    listed = _write_hidden(hidden, columns, digest)
    letters = _write_runs(runs, columns, n_runs=len(plan), listed=listed)
    write_before(before, trial, plan)
    foot = f"plan {short_digest(digest)}, seed {plan.recipe.seed}"
    top = f"{trial.title}: run sheet. {trial.invented}".strip()
    look.on_paper(runs, letters=letters, title=trial.title, foot=foot, top=top)
    look.on_paper(before, letters=WIDTH, title=trial.title, foot=foot)
    book.properties.title = look.clean(trial.title)
    book.properties.creator = "Trial Workbench"
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _write_hidden(
    sheet: Worksheet, columns: Sequence[SheetColumn], digest: str
) -> Mapping[str, str]:
    """Write the mark and the lists; return the range of each heading's list."""
    rows = [(PLAN, digest), *((COMPUTED, c.heading) for c in columns if c.kind == "computed")]
    for i, row in enumerate(rows, 1):
        for j, text in enumerate(row, 1):
            cell = sheet.cell(i, j, look.clean(text))
            cell.data_type = "s"
    listed: dict[str, str] = {}
    placed: dict[tuple[str, ...], str] = {}
    for column in columns:
        if not column.choice:
            continue
        if column.choice not in placed:
            j = 4 + len(placed)
            for i, one in enumerate(column.choice, 1):
                look.put(sheet.cell(i, j), one)
            letter = get_column_letter(j)
            placed[column.choice] = f"{HIDDEN}!${letter}$1:${letter}${len(column.choice)}"
        listed[column.heading] = placed[column.choice]
    look.protect(sheet)
    return listed


def _write_runs(
    sheet: Worksheet,
    columns: Sequence[SheetColumn],
    *,
    n_runs: int,
    listed: Mapping[str, str],
) -> float:
    """Write headings and rows; return how many letters wide they are."""
    letter_of = {column.heading: get_column_letter(j) for j, column in enumerate(columns, 1)}
    last = n_runs + 1
    widths = [_width(column) for column in columns]
    for j, (column, width) in enumerate(zip(columns, widths, strict=True), 1):
        letter = get_column_letter(j)
        sheet.column_dimensions[letter].width = width
        look.head(look.put(sheet.cell(1, j), column.heading), side=_side(column))
        _write_column(sheet, column, j, n_runs=n_runs)
        if column.kind == "computed":
            _compute(sheet, column, letter, made_at=letter_of[MADE_AT])
        if not column.is_entry:
            continue
        first, where = f"{letter}2", listed.get(column.heading, "")
        check = validation(column, cell=first, listed=where)
        if check is not None:
            check.add(f"{letter}2:{letter}{last}")
            sheet.add_data_validation(check)
        beside = f"{letter_of[column.planned]}2" if column.planned else ""
        for rule in marks(column, cell=first, planned=beside, listed=where):
            sheet.conditional_formatting.add(f"{letter}2:{letter}{last}", rule)
    end = get_column_letter(len(columns))
    sheet.conditional_formatting.add(f"A2:{end}{last}", struck(f"${letter_of['status']}2"))
    heads = [look.lines_of(c.heading, w - 2) for c, w in zip(columns, widths, strict=True)]
    sheet.row_dimensions[1].height = max(heads) * look.LINE + 4
    for i in range(2, last + 1):
        sheet.row_dimensions[i].height = ROW
    sheet.freeze_panes = "B2"
    sheet.print_title_rows = "1:1"
    sheet.print_area = f"A1:{end}{last}"
    look.protect(sheet)
    return sum(widths)


def _write_column(sheet: Worksheet, column: SheetColumn, j: int, *, n_runs: int) -> None:
    shown, side = _number_format(column), _side(column)
    for i in range(n_runs):
        cell = sheet.cell(i + 2, j)
        if column.values:
            look.put(cell, column.values[i])
        cell.number_format = shown
        if column.is_entry and (not column.open_rows or column.open_rows[i]):
            look.entry(cell)
            continue
        before = column.values[i - 1] if i and column.values else None
        is_new = bool(column.values) and column.values[i] != before
        look.planned(cell, is_new=is_new)
        cell.alignment = Alignment(horizontal=side, vertical="center", indent=look.INDENT[side])


def _side(column: SheetColumn) -> str:
    is_number = any(not isinstance(value, str) for value in column.values)
    if column.kind == "computed":
        return "right"
    return "right" if is_number and not column.is_entry else "left"


def _compute(sheet: Worksheet, column: SheetColumn, letter: str, *, made_at: str) -> None:
    days = f"{column.hours / 24:.15G}"
    for i in range(2, sheet.max_row + 1):
        made = f"{made_at}{i}"
        sheet[f"{letter}{i}"] = f'=IF(ISNUMBER({made}),{made}+{days},"")'


def _number_format(column: SheetColumn) -> str:
    if column.kind in ("moment", "computed"):
        return DATE
    if column.choice or column.kind == "text":
        return "@"  # as text: what is chosen or typed is never taken for a formula or a date
    numbers = [value for value in column.values if not isinstance(value, str)]
    if not numbers:
        return "General"
    decimals = max(len(f"{one:.6f}".rstrip("0").partition(".")[2]) for one in numbers)
    return f"0.{'0' * decimals}" if decimals else "0"


def _width(column: SheetColumn) -> float:
    if column.heading == "run":
        return 5.0
    if column.heading == "notes":
        return NOTES
    longest = max((len(str(one)) for one in column.choice), default=0)
    longest = max([longest, *(len(v) for v in column.values if isinstance(v, str))])
    least = WIDTHS.get(column.kind, NARROW)
    words = max(len(word) for word in column.heading.split())
    return max(least, min(WIDE, longest + 3.0, words + 3.0))
