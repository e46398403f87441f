"""A table that was taken in as single entries, and single entries as such a table."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from workbench.files.entries import ReadingEntry, Reset, RunEntry, Setting
from workbench.files.table_entry import (
    NO_SETUP,
    RESET_UNSAID,
    ReadingColumn,
    ResetColumn,
    SettingColumn,
    TableEntry,
    TableReadings,
    TableRuns,
    WordColumn,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from workbench.files.entries import Entry, ReceiptEntry, Value

LONG = 1_000  # runs and readings; a shorter table is an entry a line, easy to read and to search
WORDS = ("block", "blocked_by", "status", "reason", "note", "made_at")


def lines_of(table: TableEntry) -> tuple[Entry | TableEntry, ...]:
    """Return a table as the lines of the journal that hold it: itself alone if it is long."""
    if len(table.runs) + len(table.readings) > LONG:
        return (table,)
    receipt = () if table.receipt is None else (table.receipt,)
    return (*single_entries(table), *receipt)


def single_entries(entry: TableEntry) -> Iterator[RunEntry | ReadingEntry]:
    """Yield what a table says: a run after the other, then the readings of each outcome."""
    yield from run_entries(entry)
    yield from reading_entries(entry)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One thing that a table says, as a single entry; `place` says where in its columns."""

    entry: RunEntry | ReadingEntry
    place: str


def rows_of(table: TableEntry) -> Iterator[Row]:
    """Yield what a table says with its place; rows are counted from 1."""
    for number, run in enumerate(run_entries(table), start=1):
        yield Row(entry=run, place=f"run in row {number}")
    for column in table.readings.outcomes:
        rows = (np.flatnonzero(column.said) + 1).tolist()
        alone = replace(table, readings=replace(table.readings, outcomes=(column,)))
        for number, one in zip(rows, reading_entries(alone), strict=True):
            yield Row(entry=one, place=f"reading of {column.outcome} in row {number}")


def run_entries(entry: TableEntry) -> Iterator[RunEntry]:
    """Yield what a table says of each run."""
    runs = entry.runs
    said = dict.fromkeys(WORDS, ("",) * len(runs)) | {one.what: one.words for one in runs.words}
    for row, run in enumerate(runs.run.tolist()):
        setup = NO_SETUP if runs.setup is None else int(runs.setup[row])
        yield RunEntry(
            run=run,
            block=said["block"][row],
            blocked_by=said["blocked_by"][row],
            status=said["status"][row],
            reason=said["reason"][row],
            note=said["note"][row],
            made_at=said["made_at"][row],
            setup=None if setup == NO_SETUP else setup,
            settings=tuple(_setting(one, row) for one in runs.settings if one.said[row]),
            resets=tuple(
                Reset(factor=one.factor, was_reset=bool(one.answers[row]))
                for one in runs.resets
                if one.answers[row] != RESET_UNSAID
            ),
            settles=entry.settles,
        )


def reading_entries(entry: TableEntry) -> Iterator[ReadingEntry]:
    """Yield the readings of a table, outcome by outcome."""
    found = entry.readings
    for one in found.outcomes:
        for row in np.flatnonzero(one.said).tolist():
            yield ReadingEntry(
                run=int(found.run[row]),
                part=int(found.part[row]),
                reading=int(found.reading[row]),
                outcome=one.outcome,
                text=one.texts[row],
                value=float(one.values[row]),
                unit=one.unit,
                mark=int(one.marks[row]),
                settles=entry.settles,
                reason=one.reasons[row] if one.reasons else "",
            )


def _setting(one: SettingColumn, row: int) -> Setting:
    value: Value | None = one.values[row]
    if isinstance(value, float):
        value = None if math.isnan(value) else float(value)
    reason = one.reasons[row] if one.reasons else ""
    return Setting(factor=one.factor, value=value, unit=one.unit, reason=reason)


def tabled(
    entries: Sequence[RunEntry | ReadingEntry],
    *,
    receipt: ReceiptEntry | None = None,
    settles: bool = False,
) -> TableEntry:
    """Return entries of a table as one; each run, each reading and each unit stands once in it.

    Raises
    ------
    TypeError, ValueError
        If a run or reading stands twice, or a factor or outcome has two units or kinds of values.
    """
    runs = [one for one in entries if isinstance(one, RunEntry)]
    readings = [one for one in entries if isinstance(one, ReadingEntry)]
    if len({one.run for one in runs}) < len(runs):
        raise ValueError("a run stands twice")
    return TableEntry(
        runs=_runs(runs), readings=_readings(readings), receipt=receipt, settles=settles
    )


def _runs(runs: Sequence[RunEntry]) -> TableRuns:
    words = ((what, tuple(str(getattr(one, what)) for one in runs)) for what in WORDS)
    setup = [NO_SETUP if one.setup is None else one.setup for one in runs]
    factors = dict.fromkeys(one.factor for run in runs for one in run.settings)
    reset = dict.fromkeys(one.factor for run in runs for one in run.resets)
    return TableRuns(
        run=np.array([one.run for one in runs], dtype=np.int64),
        words=tuple(WordColumn(what=what, words=said) for what, said in words if any(said)),
        setup=np.array(setup, dtype=np.int64) if set(setup) - {NO_SETUP} else None,
        settings=tuple(_setting_column(name, runs) for name in factors),
        resets=tuple(_reset_column(name, runs) for name in reset),
    )


def _setting_column(factor: str, runs: Sequence[RunEntry]) -> SettingColumn:
    found = [next((s for s in one.settings if s.factor == factor), None) for one in runs]
    said = [one for one in found if one is not None]
    (unit,) = {one.unit for one in said}
    values: NDArray[np.float64] | tuple[str | None, ...]
    if all(isinstance(one.value, str) for one in said if one.value is not None):
        values = tuple(None if one is None else _word(one.value) for one in found)
    else:
        values = np.array([_number(None if one is None else one.value) for one in found])
    reasons = tuple("" if one is None else one.reason for one in found)
    return SettingColumn(
        factor=factor,
        unit=unit,
        said=np.array([one is not None for one in found], dtype=np.bool_),
        values=values,
        reasons=reasons if any(reasons) else (),
    )


def _word(value: Value | None) -> str | None:
    return None if value is None else str(value)


def _number(value: Value | None) -> float:
    if isinstance(value, str):
        raise TypeError("numbers and words for one factor")
    return math.nan if value is None else float(value)


def _reset_column(factor: str, runs: Sequence[RunEntry]) -> ResetColumn:
    said = [{one.factor: int(one.was_reset) for one in run.resets} for run in runs]
    answers = np.array([one.get(factor, RESET_UNSAID) for one in said], dtype=np.int64)
    return ResetColumn(factor=factor, answers=answers)


def _readings(readings: Sequence[ReadingEntry]) -> TableReadings:
    by_outcome: dict[str, dict[tuple[int, int, int], ReadingEntry]] = {}
    places: dict[tuple[int, int, int], None] = {}
    for one in readings:
        place = (one.run, one.part, one.reading)
        places[place] = None
        if by_outcome.setdefault(one.outcome, {}).setdefault(place, one) is not one:
            raise ValueError("a reading stands twice")
    at = np.array(list(places), dtype=np.int64).reshape(len(places), 3)
    return TableReadings(
        run=at[:, 0].copy(),
        part=at[:, 1].copy(),
        reading=at[:, 2].copy(),
        outcomes=tuple(
            _reading_column(name, [found.get(place) for place in places])
            for name, found in by_outcome.items()
        ),
    )


def _reading_column(outcome: str, found: Sequence[ReadingEntry | None]) -> ReadingColumn:
    (unit,) = {one.unit for one in found if one is not None}
    reasons = tuple("" if one is None else one.reason for one in found)
    return ReadingColumn(
        outcome=outcome,
        unit=unit,
        said=np.array([one is not None for one in found], dtype=np.bool_),
        values=np.array([0.0 if one is None else one.value for one in found], dtype=np.float64),
        marks=np.array([0 if one is None else one.mark for one in found], dtype=np.int64),
        texts=tuple("" if one is None else one.text for one in found),
        reasons=reasons if any(reasons) else (),
    )
