"""Runs whose readings are the same to all digits: copied down, unless chance did it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.run.finding import Finding, Kind, Weight
from workbench.run.means import measured_outcomes
from workbench.run.words import count_words, run_words

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.outcomes import Measured
    from workbench.run.record import Record

CHANCE = 0.05  # of one such pair of runs in a trial, were the readings independent
FEWEST_READINGS = 2


def same_reading_findings(record: Record) -> tuple[Finding, ...]:
    """Return groups of runs that share every reading, where chance would hardly make one.

    The expected number of alike pairs is the product, over the readings of a run, of the chance
    that two readings of the outcome agree (in different runs or within one, whichever is larger),
    times the number of pairs.
    """
    outcomes = measured_outcomes(record)
    read = _readings_of_rows(record, outcomes)
    groups: dict[bytes, list[int]] = {}
    for row in np.flatnonzero(np.isfinite(read).sum(axis=1) >= FEWEST_READINGS):
        groups.setdefault(read[row].tobytes(), []).append(int(row))
    alike = {outcome.name: _chance_alike(record, outcome) for outcome in outcomes}
    columns = _columns(record, outcomes)
    n_pairs = len(record) * (len(record) - 1) / 2
    findings = []
    for rows in groups.values():
        if len(rows) < 2:
            continue
        there = np.isfinite(read[rows[0]])
        expected = n_pairs * float(
            np.prod(
                [alike[name] for name, is_there in zip(columns, there, strict=True) if is_there]
            )
        )
        if expected < CHANCE:
            findings.append(_finding(record, rows, int(there.sum())))
    return tuple(findings)


def _columns(record: Record, outcomes: tuple[Measured, ...]) -> list[str]:
    return [one.name for one in outcomes for _ in range(_places(record, one).max() + 1)]


def _places(record: Record, outcome: Measured) -> NDArray[np.intp]:
    """Return a column number (m,) for each reading: one for each part and reading of a run."""
    readings = record.readings[outcome.name]
    pairs = np.column_stack([readings.part, readings.reading])
    return np.unique(pairs, axis=0, return_inverse=True)[1].ravel()


def _readings_of_rows(record: Record, outcomes: tuple[Measured, ...]) -> NDArray[np.float64]:
    tables = [np.zeros((len(record), 0))]
    for outcome in outcomes:
        readings, places = record.readings[outcome.name], _places(record, outcome)
        table = np.full((len(record), int(places.max()) + 1), np.nan)
        plain = readings.mark == 0  # two readings beyond one gauge say nothing
        table[readings.row[plain], places[plain]] = readings.value[plain]
        tables.append(table)
    return np.ascontiguousarray(np.hstack(tables))


def _chance_alike(record: Record, outcome: Measured) -> float:
    readings = record.readings[outcome.name]
    between = _share_alike(np.unique(readings.value, return_counts=True)[1], len(readings))
    in_runs = np.column_stack([readings.row, readings.value])
    count = np.unique(in_runs, axis=0, return_counts=True)[1]
    pairs_alike = float((count * (count - 1)).sum())
    of_run = np.bincount(readings.row)
    pairs = float((of_run * (of_run - 1)).sum())
    return max(between, pairs_alike / pairs if pairs else 0.0)


def _share_alike(count: NDArray[np.int64], n: int) -> float:
    # At least one pair: readings that never agreed are not impossible to agree.
    pairs = max(1.0, n * (n - 1.0))
    return max(float((count * (count - 1.0)).sum()), 2.0) / pairs


def _finding(record: Record, rows: list[int], n_readings: int) -> Finding:
    runs = tuple(int(record.run[row]) for row in rows)
    return Finding(
        kind=Kind.SAME_READINGS,
        runs=runs,
        sentence=f"All {count_words(n_readings, 'reading')} of {run_words(runs)} are the same to "
        "the last digit.",
        next_step="Chance hardly does this: look whether a row was copied down.",
        weight=Weight.CHECK,
    )
