"""Take results back: a filled-in table into the journal, whole or not at all, with a receipt."""

from __future__ import annotations

import platform
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from workbench import files
from workbench.files.entries import ReceiptEntry
from workbench.files.read_options import AS_FOUND
from workbench.files.record_files import held_now
from workbench.files.results_csv import NAME
from workbench.files.table_entry import TableEntry
from workbench.files.table_json import receipt_of
from workbench.run.receipt import Receipt, ReceiptLine
from workbench.steps.large_tables import collector_paused
from workbench.steps.take_cells import cells_of
from workbench.steps.take_columns import columns_of
from workbench.steps.take_compare import Before
from workbench.steps.take_entries import new_entries
from workbench.steps.take_plan import check_plan_of_sheet
from workbench.steps.trials import check_is_trial

if TYPE_CHECKING:
    from pathlib import Path

    from workbench.define.trial import Trial
    from workbench.files.entries import ReadingEntry, RunEntry
    from workbench.files.journal import Journal
    from workbench.files.read_options import ReadOptions
    from workbench.files.table_json import AnyEntry
    from workbench.plan.plans import Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeWish:
    """What is said on taking a table in: by whom, into which journal file, why, and how read."""

    who: str
    writer: str
    settles: bool
    reason: str
    read: ReadOptions


def take_table(
    folder: Path,
    table: Path,
    *,
    who: str,
    settles: bool = False,
    writer: str = "",
    read: ReadOptions = AS_FOUND,
    reason: str = "",
) -> Receipt:
    """Enter what a table says into the journal of a trial and rebuild results.csv.

    The table is a filled-in run sheet, results.csv edited by hand, or any table with a column of
    run numbers. Only what is new becomes an entry: taking a table twice adds nothing. `settles`
    lets the table stand against what others have entered; `writer` names the journal file
    (from `who` and the machine if empty). `read` says how the table is written, `reason` why
    values are corrected that were entered before (a row's own reason or note comes first).

    Raises
    ------
    WorkbenchError
        If anything in the table is not understood or contradicts what is known; then nothing
        is written.
    """
    asked = TakeWish(
        who=who,
        writer=writer or files.writer_name(who, platform.node()),
        settles=settles,
        reason=reason.strip(),
        read=read,
    )
    with collector_paused():
        return _taken(folder, table, asked)


def _taken(folder: Path, table: Path, asked: TakeWish) -> Receipt:
    check_is_trial(folder)
    trial = files.read_trial(folder)
    plan = files.read_plan(folder, trial)
    is_own_table = table.resolve() == (folder / NAME).resolve()
    if not is_own_table:
        files.check_results_untouched(folder)
    journal = files.read_journal(folder)
    raw = files.read_table(table, options=asked.read)
    check_plan_of_sheet(raw, plan, folder)
    again = None if asked.settles else _taken_before(journal, raw.digest)
    if again is not None:
        _rebuild(folder, trial, plan, taken=raw.digest if is_own_table else "")
        return Receipt(lines=(*raw.lines, again), n_rows=len(raw), columns=raw.headings)
    columns = columns_of(raw, trial, has_plan=plan is not None)
    cells = cells_of(raw, columns)
    before = Before(
        record=files.read_record(folder, trial, plan, last_stands=asked.settles, journal=journal),
        held=held_now(journal, trial),
        writer=asked.writer,
        settles=asked.settles,
        reason=asked.reason,
    )
    new = new_entries(raw, cells, before)
    lines = (*raw.lines, *columns.lines, *cells.lines, *new.lines)
    receipt = Receipt(lines=lines, n_rows=len(raw), columns=raw.headings)
    if new.entries:
        note = ReceiptEntry(
            source=raw.source,
            digest=raw.digest,
            n_rows=receipt.n_rows,
            columns=receipt.columns,
            lines=receipt.lines,
        )
        entries = _with_receipt(new.entries, note)
        files.append(folder, entries, writer=asked.writer, who=asked.who, seen=journal)
    _rebuild(folder, trial, plan, taken=raw.digest if is_own_table else "")
    return receipt


def _with_receipt(
    new: tuple[RunEntry | ReadingEntry, ...] | tuple[TableEntry], note: ReceiptEntry
) -> tuple[AnyEntry, ...]:
    """Return what is new as lines of the journal, with the receipt in the last of them."""
    *before, last = new
    if isinstance(last, TableEntry):
        return (replace(last, receipt=note),)
    return (*before, last, note)


def _rebuild(folder: Path, trial: Trial, plan: Plan | None, *, taken: str) -> None:
    files.write_results(folder, files.read_record(folder, trial, plan), taken=taken)


def _taken_before(journal: Journal, digest: str) -> ReceiptLine | None:
    """Return the line that says so if this very file was taken in before.

    Its receipt stands in the last line of a table, so all of it is in the journal; what was
    corrected since must not be turned back.
    """
    for stamped in journal.entries:
        entry = receipt_of(stamped.entry)
        if entry is not None and entry.digest == digest:
            return ReceiptLine(
                where=entry.source,
                met=f"the very file that {stamped.who} took in on {stamped.when[:10]}",
                understood="nothing new is added",
            )
    return None
