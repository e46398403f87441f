"""Confirm zeros that look like "not measured": somebody looked again, and they are true."""

from __future__ import annotations

import platform
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench import files
from workbench.define.outcomes import Measured
from workbench.errors import RecordError
from workbench.files.entries import ReadingEntry
from workbench.steps.trials import check_is_trial

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from workbench.run.record import Record
    from workbench.steps.json_values import JsonObject


@dataclass(frozen=True, slots=True, kw_only=True)
class ZeroAt:
    """Where zeros were read; `part` or `reading` 0 is every one of the run or part."""

    run: int
    outcome: str
    part: int = 0
    reading: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class ConfirmWish:
    """Which zeros are true, why, and who says so."""

    zeros: Sequence[ZeroAt]
    reason: str
    who: str
    writer: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ConfirmedZeros:
    """Readings that were confirmed now, and how many had been before."""

    readings: tuple[ReadingEntry, ...]
    n_before: int


def parse_zero(text: str) -> ZeroAt:
    """Return the place that RUN[/PART[/READING]]:OUTCOME means.

    Raises
    ------
    RecordError
        If it is none.

    Examples
    --------
    >>> parse_zero("7/2:leak rate")
    ZeroAt(run=7, outcome='leak rate', part=2, reading=0)
    """
    found = re.fullmatch(r"([1-9]\d{0,6})(?:/([1-9]\d{0,6}))?(?:/([1-9]\d{0,6}))?:(.+)", text)
    if found is None:
        raise RecordError(
            f"{text!r} names no reading.",
            why="A zero is confirmed reading by reading.",
            next_step='Write run, part, reading and outcome: 7/2/1:"leak rate"; without reading '
            "or part, every zero of that part or run is meant.",
        )
    run, part, reading, outcome = found.groups()
    return ZeroAt(
        run=int(run), outcome=outcome.strip(), part=int(part or 0), reading=int(reading or 0)
    )


def confirm_zeros(folder: Path, wish: ConfirmWish) -> ConfirmedZeros:
    """Enter into the journal that zeros are true readings; the readings stay as they are.

    Raises
    ------
    WorkbenchError
        If no reason is given, or there is no zero at a place, or the outcome's scale has none;
        then nothing is written.
    """
    check_is_trial(folder)
    if not wish.reason.strip():
        raise RecordError(
            "A zero is confirmed without a reason.",
            why="Whoever trusts it later must see what it rests on.",
            next_step='Say how it was read: --reason "gauge showed 0.00, checked twice".',
        )
    trial = files.read_trial(folder)
    record = files.read_record(folder, trial, files.read_plan(folder, trial))
    found = {
        (one.outcome, one.run, one.part, one.reading): one
        for at in wish.zeros
        for one in _zeros_at(record, at, reason=wish.reason.strip())
    }
    before = {(one.outcome, one.run, one.part, one.reading) for one in record.confirmed}
    new = tuple(one for key, one in found.items() if key not in before)
    if new:
        writer = wish.writer or files.writer_name(wish.who, platform.node())
        files.append(folder, new, writer=writer, who=wish.who)
    return ConfirmedZeros(readings=new, n_before=len(found) - len(new))


def confirmed_answer(made: ConfirmedZeros) -> JsonObject:
    """Return the answer of `take --confirm-zero`.

    confirmed[]: run, part, reading, outcome, reason of each reading that was confirmed now
    confirmed_before: how many had been confirmed already
    """
    return {
        "confirmed": [
            {
                "run": one.run,
                "part": one.part,
                "reading": one.reading,
                "outcome": one.outcome,
                "reason": one.reason,
            }
            for one in made.readings
        ],
        "confirmed_before": made.n_before,
    }


def _zeros_at(record: Record, at: ZeroAt, *, reason: str) -> list[ReadingEntry]:
    outcome = record.trial.outcome(at.outcome)
    if not isinstance(outcome, Measured) or outcome.scale in ("log", "inverse"):
        raise RecordError(
            f"{at.outcome} has no zero that could be confirmed.",
            why="Only a measured outcome has one, and a log or inverse scale has none.",
            next_step="Write < and the smallest value that the gauge can show.",
        )
    readings = record.readings[at.outcome]
    chosen = (record.run[readings.row] == at.run) & (readings.value == 0) & (readings.mark == 0)
    if at.part:
        chosen &= readings.part == at.part
    if at.reading:
        chosen &= readings.reading == at.reading
    rows = np.flatnonzero(chosen).tolist()
    if not rows:
        raise RecordError(
            f"No reading of {at.outcome} is exactly 0 in {_where(at)}.",
            why="Only a zero that stands in the journal can be confirmed.",
            next_step="Look into results.csv for run, part and reading of the zero.",
        )
    return [
        ReadingEntry(
            run=at.run,
            part=int(readings.part[row]),
            reading=int(readings.reading[row]),
            outcome=at.outcome,
            text="0",
            value=0.0,
            unit=outcome.unit,
            reason=reason,
            confirms=True,
        )
        for row in rows
    ]


def _where(at: ZeroAt) -> str:
    part = f", part {at.part}" if at.part else ""
    return f"run {at.run}{part}" + (f", reading {at.reading}" if at.reading else "")
