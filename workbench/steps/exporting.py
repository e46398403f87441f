"""Export a trial: every reading, what each column means, the plan and the receipts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench import files
from workbench.files.data_dictionary import data_dictionary
from workbench.files.export_folder import write_folder
from workbench.files.plan_table import table_text
from workbench.files.record_files import held_now
from workbench.files.table_json import receipt_of, runs_of
from workbench.files.tidy_csv import (
    Signature,
    Signatures,
    TidyTable,
    readings_table,
    runs_table,
    tidy_text,
)
from workbench.steps.trials import open_trial

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from workbench.files.journal import Journal, Stamped
    from workbench.files.record_files import Held

FOLDER = "export"
RECEIPT_HEADINGS = (
    "table",
    "digest",
    "rows",
    "who",
    "when",
    "where",
    "met",
    "understood",
    "sure",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Exported:
    """Where the tables were written: the readings first; their rows and columns."""

    folder: Path
    files: tuple[Path, ...]
    n_rows: int
    columns: tuple[str, ...]


def export_trial(folder: Path, *, to: Path | None = None) -> Exported:
    """Write readings.csv, runs.csv, dictionary.csv, receipts.csv and plan.csv, all or none.

    `to` is the folder that they are written into, `export` in the trial's own folder if None.

    Raises
    ------
    WorkbenchError
        If the trial cannot be read, or the folder holds anything but an earlier export.
    """
    opened = open_trial(folder)
    journal = files.read_journal(folder)
    held = held_now(journal, opened.trial)
    readings = readings_table(opened.record, _signatures(held, journal))
    tables = (
        readings,
        runs_table(opened.record, _notes(held)),
        data_dictionary(opened.record),
        _receipts(journal),
    )
    texts = {one.name: tidy_text(one) for one in tables}
    if opened.plan is not None:
        texts["plan.csv"] = table_text(opened.plan)
    target = folder / FOLDER if to is None else to
    written = write_folder(target, texts)
    return Exported(
        folder=target, files=written, n_rows=len(readings.rows), columns=readings.headings
    )


def _signatures(held: Held, journal: Journal) -> Signatures:
    readings = {key: _signature(claims.agreed("")[0]) for key, claims in held.readings.items()}
    runs = {run: _signature(one) for one in journal.entries for run in runs_of(one.entry)}
    return Signatures(readings=readings, runs=runs)


def _signature(stamped: Stamped) -> Signature:
    return Signature(who=stamped.who, when=stamped.when)


def _notes(held: Held) -> dict[int, str]:
    said = ((run, held.of_run(run, "note")) for run in held.run_numbers)
    return {run: str(note) for run, note in said if note}


def _receipts(journal: Journal) -> TidyTable:
    rows = tuple(row for one in journal.entries for row in _receipt_rows(one))
    return TidyTable(name="receipts.csv", headings=RECEIPT_HEADINGS, rows=rows)


def _receipt_rows(stamped: Stamped) -> Iterator[tuple[float | str, ...]]:
    entry = receipt_of(stamped.entry)
    if entry is None:
        return
    head = (entry.source, entry.digest, entry.n_rows, stamped.who, stamped.when)
    for line in entry.lines:
        yield (*head, line.where, line.met, line.understood, "yes" if line.sure else "no")
