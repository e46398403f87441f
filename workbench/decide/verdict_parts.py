"""The parts of a confirmation, place by place: what each met, missed or left open."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.decide.verdict import Tally
from workbench.define.outcomes import Measured, PassFail, is_judged
from workbench.run.record import Status

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from workbench.decide.confirmation import Place
    from workbench.define.outcomes import Outcome, Requirement
    from workbench.run.record import Readings, Record

MET, MISSED, OPEN = 1, -1, 0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OutcomeParts:
    """One outcome of the parts (n,) of a place.

    `state` is met, missed or open (`MET`, `MISSED`, `OPEN`); `value` the mean of a part's plain
    readings, in the outcome's unit (pass/fail and grades: 1 if it meets the requirement), to be
    used where `is_plain`. `has_cut_off` says that a reading was cut off by the gauge.
    """

    outcome: Outcome
    state: NDArray[np.int64]
    value: NDArray[np.float64]
    is_plain: NDArray[np.bool_]
    has_cut_off: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlaceParts:
    """The parts (n,) of a place: their runs, sittings, whether each was lost or is not told."""

    run: NDArray[np.int64]
    sitting: NDArray[np.int64]
    lost: NDArray[np.bool_]
    untold: NDArray[np.bool_]
    outcomes: tuple[OutcomeParts, ...]

    def tally(self) -> Tally:
        """Return the parts counted over all outcomes."""
        states = np.array([one.state for one in self.outcomes])
        return counted(states.min(axis=0), (states == OPEN).any(axis=0), self)

    def tally_of(self, one: OutcomeParts) -> Tally:
        """Return the parts counted by one outcome."""
        return counted(one.state, one.state == OPEN, self)


def counted(worst: NDArray[np.int64], has_open: NDArray[np.bool_], parts: PlaceParts) -> Tally:
    """Return parts (n,) counted: a part that misses one outcome has failed, open or not."""
    there = ~parts.lost & ~parts.untold
    failed = there & (worst == MISSED)
    unknown = parts.untold | (there & has_open & ~failed)
    return Tally(
        planned=int(parts.run.size),
        met=int((there & ~failed & ~unknown).sum()),
        failed=int(failed.sum()),
        lost=int(parts.lost.sum()),
        unknown=int(unknown.sum()),
    )


def parts_of(record: Record, place: Place) -> PlaceParts:
    """Return the parts that were planned at one place, in run order."""
    points = () if record.plan is None else record.plan.point
    rows = np.array(
        [
            i
            for i, run in enumerate(record.run.tolist())
            if 1 <= run <= len(points) and points[run - 1] == place.name
        ],
        dtype=np.int64,
    )
    status = [record.status[i] for i in rows]
    judged = [one for one in record.trial.outcomes if is_judged(one)]
    return PlaceParts(
        run=record.run[rows],
        sitting=record.block[rows],
        lost=np.array([one is Status.FAILED for one in status], dtype=bool),
        untold=np.array([one not in (Status.DONE, Status.FAILED) for one in status], dtype=bool),
        outcomes=tuple(_outcome(record.readings[one.name], one, rows) for one in judged),
    )


def _outcome(readings: Readings, outcome: Outcome, rows: NDArray[np.int64]) -> OutcomeParts:
    state = np.full(rows.size, OPEN, dtype=np.int64)
    value = np.zeros(rows.size)
    is_plain = np.zeros(rows.size, dtype=bool)
    cut_off = False
    for i, row in enumerate(rows):
        own = np.flatnonzero(readings.row == row)
        if own.size == 0:
            continue
        marks = readings.mark[own]
        cut_off |= bool(marks.any())
        if marks.any():
            state[i] = _together(
                [
                    _state(outcome, float(v), int(m))
                    for v, m in zip(readings.value[own], marks, strict=True)
                ]
            )
            continue
        states = _plain(outcome, readings.value[own])
        state[i], value[i] = states
        is_plain[i] = True
    return OutcomeParts(
        outcome=outcome, state=state, value=value, is_plain=is_plain, has_cut_off=cut_off
    )


def _plain(outcome: Outcome, values: NDArray[np.float64]) -> tuple[int, float]:
    """Return the state of a part with plain readings, and the number that stands for it."""
    if isinstance(outcome, Measured):
        mean = float(values.mean())
        return _state(outcome, mean, 0), mean
    state = _together([_state(outcome, float(value), 0) for value in values])
    if isinstance(outcome, PassFail) or hasattr(outcome, "grades"):
        return state, float(state == MET)
    return state, float(values.mean())


def _together(states: Sequence[int]) -> int:
    """Return the state of a part from those of its readings: all must meet the requirement."""
    return min(states) if MISSED in states or OPEN not in states else OPEN


def _state(outcome: Outcome, value: float, mark: int) -> int:
    """Return whether one reading meets the requirement; `mark` −1: below it, +1: above it."""
    if isinstance(outcome, PassFail):
        return MET if value == 1 else MISSED
    requirement = outcome.requirement
    if requirement is None:
        return MET
    if mark == 0:
        return MET if _passes(requirement, value) else MISSED
    low_met = requirement.low is None or (mark > 0 and value >= requirement.low)
    high_met = requirement.high is None or (mark < 0 and value <= requirement.high)
    low_missed = requirement.low is not None and mark < 0 and value <= requirement.low
    high_missed = requirement.high is not None and mark > 0 and value >= requirement.high
    if low_missed or high_missed:
        return MISSED
    return MET if low_met and high_met else OPEN


def _passes(requirement: Requirement, value: float) -> bool:
    low = -np.inf if requirement.low is None else requirement.low
    high = np.inf if requirement.high is None else requirement.high
    return bool(low <= value <= high)
