"""Zeros that look like "not measured", and other signs of how a table was typed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.run.finding import Finding, Kind, Weight
from workbench.run.means import measured_outcomes
from workbench.run.record import Status
from workbench.run.words import count_words, run_words, with_unit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.outcomes import Measured
    from workbench.run.record import Record

FEWEST_OTHERS = 4
NEAREST = 0.2  # of the middle value: the others stay clear of zero. A convention of ours
STEPS_AWAY = 5  # steps of the gauge between zero and the nearest other value
ODD_ONE_IN = 20  # one odd reading in so many, at least one of ten, must not hide a zero


def zero_findings(record: Record) -> tuple[Finding, ...]:
    """Return outcomes whose exact zeros stand apart from everything else that was read."""
    counts = np.array([one is Status.DONE for one in record.status], dtype=bool)
    findings: list[Finding] = []
    for outcome in measured_outcomes(record):
        readings = record.readings[outcome.name]
        own = counts[readings.row] & (readings.mark == 0)
        zeros = own & (readings.value == 0)
        has_no_zero = outcome.scale in ("log", "inverse")
        if not has_no_zero:  # where there is no zero, nobody can have read one
            are_true = zeros & _are_confirmed(record, outcome.name)
            zeros &= ~are_true
            findings += _confirmed(record, outcome.name, are_true)
        others = np.abs(readings.value[own & (readings.value != 0)])
        if zeros.any() and (has_no_zero or _stand_apart(others, outcome)):
            runs = tuple(np.unique(record.run[readings.row[zeros]]).tolist())
            found = f"{count_words(int(zeros.sum()), 'reading')} ({run_words(runs)})"
            findings.append(_finding(outcome, runs, f"{found}, and {_why(outcome, others)}"))
    return tuple(findings)


def _are_confirmed(record: Record, outcome: str) -> NDArray[np.bool_]:
    """Return which readings (m,) of an outcome somebody looked at again and found true."""
    readings = record.readings[outcome]
    places = {
        (one.run, one.part, one.reading) for one in record.confirmed if one.outcome == outcome
    }
    if not places:
        return np.zeros(len(readings), dtype=bool)
    at = zip(
        record.run[readings.row].tolist(),
        readings.part.tolist(),
        readings.reading.tolist(),
        strict=True,
    )
    return np.array([place in places for place in at], dtype=bool)


def _confirmed(record: Record, outcome: str, are_true: NDArray[np.bool_]) -> list[Finding]:
    runs = set(record.run[record.readings[outcome].row[are_true]].tolist())
    found = [one for one in record.confirmed if one.outcome == outcome and one.run in runs]
    return [
        Finding(
            kind=Kind.ZERO_CONFIRMED,
            runs=(one.run,),
            about=outcome,
            sentence=f"Run {one.run}, {outcome}, part {one.part}, reading {one.reading}: 0 was "
            f"confirmed as read ({one.who}, {one.when[:10]}): {one.reason.rstrip('.')}.",
        )
        for one in found
    ]


def _stand_apart(others: NDArray[np.float64], outcome: Measured) -> bool:
    if others.size < FEWEST_OTHERS:
        return False
    between = np.diff(np.unique(others))
    step = outcome.resolution or (float(between.min()) if between.size else 0.0)
    nearest = float(np.sort(others)[_odd(others)])
    return nearest >= NEAREST * float(np.median(others)) and nearest > STEPS_AWAY * step


def _odd(others: NDArray[np.float64]) -> int:
    """Return how many of the smallest other readings are passed over as odd themselves."""
    return 0 if others.size < 10 else max(1, others.size // ODD_ONE_IN)


def _why(outcome: Measured, others: NDArray[np.float64]) -> str:
    if outcome.scale in ("log", "inverse"):
        return f"its {outcome.scale} scale has no zero"
    clear = others[others >= NEAREST * float(np.median(others))]
    fewer = others.size - clear.size
    start = f"only {count_words(fewer, 'other reading')} lies" if fewer == 1 else "nothing else is"
    start = f"only {count_words(fewer, 'other reading')} lie" if fewer > 1 else start
    return f"{start} below {with_unit(float(clear.min()), outcome.unit)}"


def _finding(outcome: Measured, runs: tuple[int, ...], found: str) -> Finding:
    return Finding(
        kind=Kind.ZEROS,
        runs=runs,
        about=outcome.name,
        sentence=f"{outcome.name} is exactly 0 in {found}: this looks like not measured.",
        next_step="Write n/a where nothing was read. Where the gauge showed zero, confirm it: "
        f'workbench take DIR --confirm-zero {runs[0]}:"{outcome.name}" --reason "…"; or write < '
        "and the smallest value that it can show.",
        weight=Weight.CHECK,
    )
