"""The readable table of results, made from the journal; never written over a hand's edits.

`results/results.csv.sha256` lists the digests of all tables that the workbench wrote, each noted
before the table takes its place: a program stopped in between leaves a table that is known.
"""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import FileError
from workbench.files.atomic import write_text_atomically
from workbench.files.csv_text import csv_columns
from workbench.files.digests import file_digest
from workbench.files.headings import with_unit
from workbench.files.links import check_stays_inside
from workbench.files.locks import locked
from workbench.files.shown_values import shown_reading, shown_setting
from workbench.files.table_entry import packed, unpacked
from workbench.numerics.distinct import distinct
from workbench.run.asked_resets import reset_heading
from workbench.run.record import NOT_RESET, RESET_UNSAID, WAS_RESET, Status

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from numpy.typing import NDArray

    from workbench.define.outcomes import Outcome
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
    columns = _columns(record, _places(record))
    return csv_columns([one.heading for one in columns], [one.cells for one in columns])


@dataclass(frozen=True, slots=True)
class _Column:
    heading: str
    cells: Sequence[float | str]


def _places(record: Record) -> NDArray[np.int64]:
    """Return the lines of the table as row, part and reading (m, 3), ascending.

    A run without readings has one line, for its first reading.
    """
    found = list(record.readings.values())
    is_bare = np.ones(len(record), dtype=np.bool_)
    is_bare[np.concatenate([one.row for one in found])] = False
    bare = np.flatnonzero(is_bare)
    first = np.ones_like(bare)
    places = [packed(bare, first, first)]
    places += [packed(one.row, one.part, one.reading) for one in found]
    return unpacked(distinct(np.concatenate(places)))


def _columns(record: Record, places: NDArray[np.int64]) -> list[_Column]:
    row, part, reading = places.T
    status = ["" if one in (Status.DONE, Status.MISSING) else one.value for one in record.status]
    return [
        _Column("run", record.run[row].tolist()),
        _Column("block", _of_rows([record.block_labels[i] for i in record.block], row)),
        _Column("setup", record.setup[row].tolist()),
        _Column("part", part.tolist()),
        _Column("reading", reading.tolist()),
        *_set_columns(record, row),
        *(_readings_column(record, one, places) for one in record.trial.outcomes),
        _Column("status", _of_rows(status, row)),
        _Column("reason", _of_rows(record.reason, row)),
    ]


def _set_columns(record: Record, row: NDArray[np.int64]) -> Iterator[_Column]:
    """Yield how the runs were set: values, whether they were reset, and when."""
    factors = record.trial.factors
    for j, factor in enumerate(factors):
        values = record.as_run.values[:, j].tolist()
        shown_as = {value: shown_setting(factor, value) for value in set(values)}
        shown = [shown_as[value] for value in values]
        yield _Column(with_unit(f"{factor.name} as run", factor.unit), _of_rows(shown, row))
    for j in np.flatnonzero((record.resets != RESET_UNSAID).any(axis=0)).tolist():
        words = [_RESET_WORDS[one] for one in record.resets[:, j].tolist()]
        yield _Column(reset_heading(factors[j].name), _of_rows(words, row))
    if any(record.made_at):
        yield _Column("made at", _of_rows(record.made_at, row))


def _readings_column(record: Record, outcome: Outcome, places: NDArray[np.int64]) -> _Column:
    found = record.readings[outcome.name]
    lines = np.searchsorted(packed(*places.T), packed(found.row, found.part, found.reading))
    cells: list[float | str] = [""] * len(places)
    for line, value, mark in zip(
        lines.tolist(), found.value.tolist(), found.mark.tolist(), strict=True
    ):
        cells[line] = shown_reading(outcome, value, mark)
    return _Column(with_unit(outcome.name, str(getattr(outcome, "unit", ""))), cells)


def _of_rows(said: Sequence[float | str], row: NDArray[np.int64]) -> list[float | str]:
    """Return what is said of runs (n,) for each line (m,), by its row in the record."""
    return [said[i] for i in row.tolist()]


_RESET_WORDS = {RESET_UNSAID: "", NOT_RESET: "no", WAS_RESET: "yes"}


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()
