"""What became of each run: missing, failed, excluded, made again, numbered twice, added."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.run.finding import Finding, Kind, Weight
from workbench.run.record import Status
from workbench.run.words import run_words

if TYPE_CHECKING:
    from workbench.run.record import Record

SAME = 1e-9  # relative to the range of a column of settings


def status_findings(record: Record) -> tuple[Finding, ...]:
    """Return what became of the runs that are not simply done."""
    return (
        *_missing(record),
        *_set_aside(record),
        *_repeated(record),
        *_read_though_failed(record),
        *_numbered_twice(record),
        *_added(record),
    )


def runs_with(record: Record, status: Status) -> tuple[int, ...]:
    """Return the numbers of the runs of one status."""
    return tuple(
        int(run) for run, one in zip(record.run, record.status, strict=True) if one is status
    )


def _missing(record: Record) -> tuple[Finding, ...]:
    missing = runs_with(record, Status.MISSING)
    if not missing:
        return ()
    return (
        Finding(
            kind=Kind.MISSING,
            runs=missing,
            sentence=f"Planned but not recorded: {run_words(missing)}.",
            weight=Weight.CHECK,
        ),
    )


def _set_aside(record: Record) -> tuple[Finding, ...]:
    words = {Status.FAILED: "failed", Status.EXCLUDED: "is excluded"}
    kinds = {Status.FAILED: Kind.FAILED, Status.EXCLUDED: Kind.EXCLUDED}
    return tuple(
        Finding(
            kind=kinds[status],
            runs=(int(run),),
            sentence=f"Run {run} {words[status]}: {reason or 'no reason given'}.",
            next_step="" if reason else "Say why: a failure is information.",
            weight=Weight.NOTE if reason else Weight.ASK,
        )
        for run, status, reason in zip(record.run, record.status, record.reason, strict=True)
        if status in words
    )


def _repeated(record: Record) -> tuple[Finding, ...]:
    repeated = runs_with(record, Status.REPEATED)
    if not repeated:
        return ()
    return (
        Finding(
            kind=Kind.REPEATED,
            runs=repeated,
            sentence=f"Made again under another number, not counted twice: {run_words(repeated)}.",
        ),
    )


def _read_though_failed(record: Record) -> tuple[Finding, ...]:
    failed = np.array([one is Status.FAILED for one in record.status], dtype=bool)
    rows: set[int] = set()
    for readings in record.readings.values():
        rows.update(np.unique(readings.row[failed[readings.row]]).tolist())
    if not rows:
        return ()
    runs = tuple(int(record.run[row]) for row in sorted(rows))
    return (
        Finding(
            kind=Kind.READ_THOUGH_FAILED,
            runs=runs,
            sentence=f"Failed, and yet read: {run_words(runs)}. The readings are kept beside the "
            "others and stand in no fit.",
        ),
    )


def _numbered_twice(record: Record) -> tuple[Finding, ...]:
    runs, count = np.unique(record.run, return_counts=True)
    twice = tuple(runs[count > 1].tolist())
    if not twice:
        return ()
    return (
        Finding(
            kind=Kind.NUMBERED_TWICE,
            runs=twice,
            sentence=f"More than one run bears the number: {run_words(twice)}.",
            next_step="Give the later one a number of its own.",
            weight=Weight.CHECK,
        ),
    )


def _added(record: Record) -> tuple[Finding, ...]:
    if record.plan is None:
        return ()
    n = len(record.plan)
    return tuple(
        _added_one(record, int(row)) for row in np.flatnonzero((record.run < 1) | (record.run > n))
    )


def _added_one(record: Record, row: int) -> Finding:
    made_again = _alike_not_done(record, row)
    again = f" It has the settings of {run_words(made_again)}, which did not count."
    return Finding(
        kind=Kind.ADDED,
        runs=(int(record.run[row]),),
        sentence=f"Run {record.run[row]} was not planned{'.' + again if made_again else '.'}",
        next_step="It counts like any other; why it was added belongs into its note.",
    )


def _alike_not_done(record: Record, row: int) -> tuple[int, ...]:
    """Return the runs of the same settings that failed, are missing or were made again."""
    if record.planned is None:
        return ()
    names = [factor.name for factor in record.trial.planned_factors]
    places = [record.planned.names.index(name) for name in names]
    own = record.as_run.values[row, places]
    span = np.maximum(np.ptp(np.nan_to_num(record.planned.values[:, places]), axis=0), 1e-300)
    apart = np.abs(record.planned.values[:, places] - own) / span
    alike = (apart <= SAME).all(axis=1)
    return tuple(
        int(record.run[i])
        for i in np.flatnonzero(alike)
        if i != row and record.status[i] is not Status.DONE
    )
