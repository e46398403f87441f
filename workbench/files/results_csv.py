"""The readable table of results, made from the journal; never written over a hand's edits."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

from workbench.errors import FileError
from workbench.files.atomic import write_text_atomically
from workbench.files.csv_text import csv_text
from workbench.files.headings import with_unit
from workbench.files.shown_values import shown_reading, shown_setting
from workbench.run.record import Status

if TYPE_CHECKING:
    from pathlib import Path

    from workbench.run.record import Record

NAME = "results.csv"
DIGEST = "results/results.csv.sha256"


def write_results(folder: Path, record: Record, *, edits_taken: bool = False) -> Path:
    """Write results.csv from the record: one row a run, part and reading.

    `edits_taken` says that what someone edited in it has gone into the journal.

    Raises
    ------
    FileError
        If someone has edited the table since it was written.
    """
    if not edits_taken:
        check_results_untouched(folder)
    text = results_text(record)
    (folder / DIGEST).parent.mkdir(parents=True, exist_ok=True)
    write_text_atomically(folder / NAME, text)
    write_text_atomically(folder / DIGEST, _digest(text.encode()) + "\n")
    return folder / NAME


def check_results_untouched(folder: Path) -> None:
    """Check that results.csv, if it is there, is the one that the workbench wrote.

    Raises
    ------
    FileError
        If it was changed by hand.
    """
    table, kept = folder / NAME, folder / DIGEST
    if not table.exists():
        return
    known = kept.read_text(encoding="ascii").strip() if kept.exists() else ""
    if _digest(table.read_bytes()) != known:
        raise FileError(
            "The table was changed by hand since the workbench wrote it.",
            why="Writing it anew would lose the changes, and the journal does not hold them.",
            next_step=f"Take the changes in with `workbench take {folder} {table}`, "
            "or move the file away.",
            place=str(table),
        )


def results_text(record: Record) -> str:
    """Return the table of a record as CSV text, settings as they were run."""
    trial = record.trial
    headings = ["run", "block", "setup", "part", "reading"]
    headings += [with_unit(f"{f.name} as run", f.unit) for f in trial.factors]
    headings += [with_unit(o.name, str(getattr(o, "unit", ""))) for o in trial.outcomes]
    headings += ["status", "reason"]
    return csv_text(headings, [row for i in range(len(record)) for row in _rows(record, i)])


def _rows(record: Record, i: int) -> list[list[float | str]]:
    settings = [
        shown_setting(factor, float(value))
        for factor, value in zip(record.trial.factors, record.as_run.values[i], strict=True)
    ]
    shown = _readings(record, i)
    places = sorted({place for _, place in shown}) or [(1, 1)]
    head = [int(record.run[i]), record.block_labels[record.block[i]], int(record.setup[i])]
    status = record.status[i]
    tail = ["" if status in (Status.DONE, Status.MISSING) else status.value, record.reason[i]]
    names = [outcome.name for outcome in record.trial.outcomes]
    return [
        [*head, *place, *settings, *(shown.get((name, place), "") for name in names), *tail]
        for place in places
    ]


def _readings(record: Record, i: int) -> dict[tuple[str, tuple[int, int]], float | str]:
    found = {}
    for outcome in record.trial.outcomes:
        readings = record.readings[outcome.name]
        for j in (readings.row == i).nonzero()[0]:
            place = (int(readings.part[j]), int(readings.reading[j]))
            value, mark = float(readings.value[j]), int(readings.mark[j])
            found[outcome.name, place] = shown_reading(outcome, value, mark)
    return found


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()
