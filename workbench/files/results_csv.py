"""The readable table of results, made from the journal; never written over a hand's edits.

`results/results.csv.sha256` lists the digests of all tables that the workbench wrote, each noted
before the table takes its place: a program stopped in between leaves a table that is known.
"""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from workbench.errors import FileError
from workbench.files.atomic import write_text_atomically
from workbench.files.csv_text import csv_text
from workbench.files.digests import file_digest
from workbench.files.headings import with_unit
from workbench.files.links import check_stays_inside
from workbench.files.locks import locked
from workbench.files.shown_values import shown_reading, shown_setting
from workbench.run.asked_resets import reset_heading
from workbench.run.record import NOT_RESET, RESET_UNSAID, WAS_RESET, Status

if TYPE_CHECKING:
    from pathlib import Path

    from workbench.run.record import Record

NAME = "results.csv"
DIGEST = "results/results.csv.sha256"


def write_results(folder: Path, record: Record, *, taken: str = "") -> Path:
    """Write results.csv from the record: one row a run, part and reading.

    `taken` is the digest of an edited table whose changes have gone into the journal.

    Raises
    ------
    FileError
        If someone has edited the table since it was written or taken, another program holds it
        open, or it cannot be written; the journal holds everything all the same.
    """
    text = results_text(record)
    digest = _digest(text.encode())
    check_stays_inside(folder / DIGEST, folder)
    try:
        (folder / DIGEST).parent.mkdir(parents=True, exist_ok=True)
        with (folder / DIGEST).open("a+b") as stream, locked(stream):
            known = _known(folder)
            _check_untouched(folder, {*known, taken})
            if known[-1:] != [digest]:
                stream.write(f"{digest}\n".encode())
                stream.flush()
                os.fsync(stream.fileno())
            _put(folder, text)
    except OSError as met:
        raise _not_written(folder, f"{NAME} cannot be written: {met.strerror or met}.") from None
    return folder / NAME


def check_results_untouched(folder: Path) -> None:
    """Check that results.csv, if it is there, is one that the workbench wrote.

    Raises
    ------
    FileError
        If it was changed by hand, or cannot be read.
    """
    try:
        _check_untouched(folder, set(_known(folder)))
    except OSError as met:
        raise FileError(
            f"The table cannot be read: {met.strerror or met}.",
            why="Whether it was changed by hand cannot be told.",
            next_step="Check that you may read it; results are read from the journal.",
            place=str(folder / NAME),
        ) from None


def _check_untouched(folder: Path, known: set[str]) -> None:
    table = folder / NAME
    if not table.exists() or file_digest(table) in known:
        return
    raise FileError(
        "The table was changed by hand since the workbench wrote it.",
        why="Writing it anew would lose the changes, and the journal does not hold them.",
        next_step=f"Take the changes in with `workbench take {folder} {table}`, "
        "or move the file away.",
        place=str(table),
    )


def _known(folder: Path) -> list[str]:
    kept = folder / DIGEST
    return kept.read_text(encoding="utf-8", errors="replace").split() if kept.exists() else []


def holds_text(folder: Path, text: str) -> bool:
    """Return whether results.csv is this text to the byte.

    Raises
    ------
    OSError
        If it cannot be read.
    """
    return file_digest(folder / NAME) == _digest(text.encode())


def _put(folder: Path, text: str) -> None:
    table = folder / NAME
    if table.exists() and holds_text(folder, text):
        return
    try:
        write_text_atomically(table, text)
    except FileError as met:
        raise _not_written(folder, met.wrong) from None


def _not_written(folder: Path, wrong: str) -> FileError:
    return FileError(
        wrong,
        why="The results themselves are safe: the journal holds them all; only the table for "
        "reading is behind.",
        next_step=f"Close {NAME} if a spreadsheet program shows it, and see that the folder has "
        "room; then take the same table again: nothing is entered twice.",
        place=str(folder / NAME),
    )


def results_text(record: Record) -> str:
    """Return the table of a record as CSV text, settings as they were run."""
    trial = record.trial
    headings = ["run", "block", "setup", "part", "reading"]
    headings += [with_unit(f"{f.name} as run", f.unit) for f in trial.factors]
    headings += [reset_heading(trial.factors[j].name) for j in _answered(record)]
    headings += ["made at"] if any(record.made_at) else []
    headings += [with_unit(o.name, str(getattr(o, "unit", ""))) for o in trial.outcomes]
    headings += ["status", "reason"]
    shown = _shown_runs(record)
    return csv_text(headings, [row for i in range(len(record)) for row in _rows(record, shown, i)])


@dataclass(slots=True)
class _ShownRun:
    """What is shown of the readings of one run: by place (part, reading), by outcome."""

    places: dict[tuple[int, int], dict[str, float | str]] = field(default_factory=dict)


def _shown_runs(record: Record) -> list[_ShownRun]:
    shown = [_ShownRun() for _ in range(len(record))]
    for outcome in record.trial.outcomes:
        found = record.readings[outcome.name]
        columns = (found.row, found.part, found.reading, found.value, found.mark)
        for row, part, reading, value, mark in zip(
            *(one.tolist() for one in columns), strict=True
        ):
            cell = shown_reading(outcome, value, mark)
            shown[row].places.setdefault((part, reading), {})[outcome.name] = cell
    return shown


def _rows(record: Record, shown: list[_ShownRun], i: int) -> list[list[float | str]]:
    settings = [
        shown_setting(factor, float(value))
        for factor, value in zip(record.trial.factors, record.as_run.values[i], strict=True)
    ]
    settings += [_RESET_WORDS[int(record.resets[i, j])] for j in _answered(record)]
    settings += [record.made_at[i]] if any(record.made_at) else []
    places = shown[i].places
    head = [int(record.run[i]), record.block_labels[record.block[i]], int(record.setup[i])]
    status = record.status[i]
    tail = ["" if status in (Status.DONE, Status.MISSING) else status.value, record.reason[i]]
    names = [outcome.name for outcome in record.trial.outcomes]
    return [
        [*head, *place, *settings, *(places.get(place, {}).get(name, "") for name in names), *tail]
        for place in sorted(places) or [(1, 1)]
    ]


_RESET_WORDS = {RESET_UNSAID: "", NOT_RESET: "no", WAS_RESET: "yes"}


def _answered(record: Record) -> list[int]:
    """Return the places of the factors of which anybody said whether they were reset."""
    answered = (record.resets != RESET_UNSAID).any(axis=0)
    return [j for j, is_answered in enumerate(answered.tolist()) if is_answered]


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()
