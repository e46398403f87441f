"""Enter what was typed into the record panel: cell by cell into the journal, as it is made.

A cell is read by the very rules by which a filled-in run sheet is taken in, so that the same
words mean the same on paper, in a spreadsheet and in the panel. One wrong cell keeps no other out.
"""

from __future__ import annotations

import platform
import re
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING

from workbench import files
from workbench.errors import RecordError, WorkbenchError
from workbench.files.headings import guarded
from workbench.files.held import reset_of, setting_of
from workbench.files.raw_table import Cells, RawTable
from workbench.files.sheet_mark import MADE_AT
from workbench.run.record import Status
from workbench.steps.panel_nouns import EditAnswer, EditAnswers
from workbench.steps.panel_record import read_for_panel
from workbench.steps.take_cells import cells_of
from workbench.steps.take_columns import OutcomeColumn, ResetColumn, SettingColumn, columns_of
from workbench.steps.take_compare import Before
from workbench.steps.take_entries import new_entries

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from workbench.files.table_json import AnyEntry
    from workbench.steps.panel_nouns import Edit
    from workbench.steps.panel_record import PanelTrial

SOURCE = "record panel"
_NEED_REASON = (Status.FAILED, Status.EXCLUDED, Status.REPEATED)
_TIME_ALONE = re.compile(r"(?P<hour>[01]?\d|2[0-3])[:.](?P<minute>[0-5]\d)")


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryWish:
    """Who enters, into which file of the journal, why values are corrected, and when."""

    who: str
    writer: str
    reason: str
    now: datetime


@dataclass(frozen=True, slots=True)
class _Made:
    answer: EditAnswer
    entries: tuple[AnyEntry, ...] = ()


def enter(
    folder: Path, edits: Sequence[Edit], *, who: str, reason: str = "", now: datetime | None = None
) -> EditAnswers:
    """Enter edits into the journal of a trial; what is answered "entered" is on the disk.

    A value that replaces another, or a run that does not simply count, is asked a reason first.

    Raises
    ------
    WorkbenchError
        If the folder is no trial, or the journal cannot be read or written; then nothing is added.
    """
    wish = EntryWish(
        who=who,
        writer=files.writer_name(who, platform.node()),
        reason=reason.strip(),
        now=now or datetime.now().astimezone(),
    )
    journal = files.read_journal(folder)
    read = read_for_panel(folder)
    made = [_made(read, edit, wish) for edit in edits]
    entries = [entry for one in made for entry in one.entries]
    notes: tuple[str, ...] = ()
    if entries:
        files.append(folder, entries, writer=wish.writer, who=wish.who, seen=journal)
        notes = _table_notes(folder)
    return EditAnswers(answers=tuple(one.answer for one in made), notes=notes)


def _table_notes(folder: Path) -> tuple[str, ...]:
    """Write results.csv anew; the entries stand in the journal whatever becomes of the table."""
    try:
        read = read_for_panel(folder)
        if not read.problem:
            files.write_results(folder, read.record)
    except WorkbenchError as met:
        return (f"The entry is in the journal. {met}",)
    return ()


def _made(read: PanelTrial, edit: Edit, wish: EntryWish) -> _Made:
    try:
        return _entered(read, _as_written(read, edit, wish), wish)
    except WorkbenchError as met:
        words = f"{met.wrong} {met.why} {_next_step(met)}"
        return _Made(_answer(edit, "wrong", words))


def _answer(edit: Edit, outcome: str, words: str = "") -> EditAnswer:
    return EditAnswer(run=edit.run, column=edit.column, outcome=outcome, words=words)


def _next_step(met: WorkbenchError) -> str:
    """Return what to do next, for a person at a cell and not at a command line."""
    if "two readings" not in met.wrong:
        return met.next_step
    either = met.wrong.rpartition(": ")[2].rstrip(".").replace(" and ", " or ")
    return f"Write {either}."


def _as_written(read: PanelTrial, edit: Edit, wish: EntryWish) -> Edit:
    """Return the edit as a table would say it: a time with its date, an emptied cell refused."""
    text = edit.text.strip()
    if text and edit.column == MADE_AT:
        return replace(edit, text=_moment(text, wish.now))
    if text:
        return replace(edit, text=text)
    planned = _planned_text(read, edit)
    if planned:
        return replace(edit, text=planned)
    if not _is_held(read, edit):
        return replace(edit, text="")
    raise RecordError(
        "What was entered stays in the journal.",
        why="An emptied cell would say that it was never seen.",
        next_step="Write the right value over it; or give the run a status with its reason.",
    )


def _moment(text: str, now: datetime) -> str:
    found = _TIME_ALONE.fullmatch(text)
    if found:
        moment = now.replace(hour=int(found["hour"]), minute=int(found["minute"]), second=0)
        return moment.strftime("%Y-%m-%dT%H:%M:%S")
    try:
        known = datetime.fromisoformat(text) if ":" in text else None
    except ValueError:
        known = None
    if known is None:
        raise RecordError(
            f"{text!r} is no date and time.",
            why="Waits and the order of the runs are counted from it.",
            next_step="Write it as 2026-04-20 14:05, or 14:05 for today.",
        )
    return text


def _planned_text(read: PanelTrial, edit: Edit) -> str:
    """Return the planned setting behind an as-run cell that was emptied; "" if there is none."""
    column = _column(read, edit)
    if not isinstance(column, SettingColumn) or not _is_held(read, edit):
        return ""
    plan = read.plan
    if plan is None or edit.run > len(plan) or column.factor.name not in plan.settings.names:
        return ""
    value = float(plan.settings.column(column.factor.name)[edit.run - 1])
    levels = getattr(column.factor, "levels", ())
    return str(levels[int(value)]) if levels else repr(value)


def _column(read: PanelTrial, edit: Edit) -> SettingColumn | OutcomeColumn | ResetColumn | None:
    table = _table(read, edit, reason="")
    columns = columns_of(table, read.trial, has_plan=read.plan is not None)
    found: tuple[SettingColumn | OutcomeColumn | ResetColumn, ...]
    found = (*columns.settings, *columns.outcomes, *columns.resets)
    return found[0] if found else None


def _is_held(read: PanelTrial, edit: Edit) -> bool:
    column = _column(read, edit)
    held = read.held
    if isinstance(column, SettingColumn):
        return held.runs.find((edit.run, setting_of(column.factor.name))) is not None
    if isinstance(column, OutcomeColumn):
        key = (column.outcome.name, edit.run, column.part or 1, column.reading or 1)
        return held.reading(key) is not None
    if isinstance(column, ResetColumn):
        return held.runs.find((edit.run, reset_of(column.factor.name))) is not None
    what = {"notes": "note"}.get(edit.column, edit.column)
    return held.runs.find((edit.run, what)) is not None


def _table(read: PanelTrial, edit: Edit, *, reason: str) -> RawTable:
    """Return the edit as a table: one row, or all runs of a block that is given its name."""
    runs = [edit.run]
    if edit.column == "block" and read.plan is not None:
        block = read.plan.block
        runs = [i + 1 for i in range(len(read.plan)) if block[i] == block[edit.run - 1]]
    cells = {"run": [str(run) for run in runs], edit.column: [_guarded(edit)] * len(runs)}
    if edit.column == "status" and reason:
        cells["reason"] = [guarded(reason)] * len(runs)
    return RawTable(
        source=SOURCE,
        headings=tuple(cells),
        columns=tuple(Cells(texts=tuple(texts)) for texts in cells.values()),
        row_numbers=tuple(runs),
        digest="",
        lines=(),
    )


def _guarded(edit: Edit) -> str:
    """Return typed words as a cell of a table of ours holds them; numbers stand as they are."""
    return guarded(edit.text) if edit.column in ("notes", "block") else edit.text


def _entered(read: PanelTrial, edit: Edit, wish: EntryWish) -> _Made:
    if edit.column == "status" and edit.text in _NEED_REASON and not wish.reason:
        return _Made(_answer(edit, "ask", f"Run {edit.run} is set to {edit.text}. Why?"))
    before = Before(
        record=read.record,
        held=read.held,
        writer=wish.writer,
        settles=False,
        reason=wish.reason,
    )
    table = _table(read, edit, reason=wish.reason)
    cells = cells_of(table, columns_of(table, read.trial, has_plan=read.plan is not None))
    try:
        new = new_entries(table, cells, before)
    except RecordError as met:  # somebody else entered another value
        if not wish.reason:
            return _Made(_answer(edit, "ask", f"{_of_panel(met.wrong)} Why is it {edit.text}?"))
        new = new_entries(table, cells, replace(before, settles=True))
    if not new.entries:
        return _Made(_answer(edit, "known"))
    corrections = [line.met for line in new.lines if not line.sure]
    if corrections and not wish.reason and edit.column not in ("notes", "block"):
        return _Made(_answer(edit, "ask", f"{'; '.join(corrections)}. Why?"))
    return _Made(_answer(edit, "entered"), new.entries)


def _of_panel(words: str) -> str:
    return words.replace("the table says", "you write")
