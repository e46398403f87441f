"""What really happened against the plan: settings off, runs missing, left out or repeated."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical, Role
from workbench.run.record import Status

if TYPE_CHECKING:
    from workbench.define.factors import Factor
    from workbench.run.record import Record

ROUNDING = 1e-9  # relative to the range of a factor; a setting this near is the planned one
RUNS_TO_CALL_SORTED = 6  # chance order is sorted with chance 2/6! = 0.3 %


@dataclass(frozen=True, slots=True, kw_only=True)
class Deviation:
    """A setting that was not run as planned, in the factor's unit or by level.

    `in_sd` is the distance in units of the factor's setting_sd; None where that is not stated,
    is 0, or the factor has levels.
    """

    run: int
    factor: str
    planned: float | str
    as_run: float | str
    in_sd: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Happened:
    """What became of the runs: counts, run numbers, deviations, and notes in sentences."""

    n_planned: int
    n_done: int
    n_failed: int
    n_excluded: int
    missing: tuple[int, ...]
    deviations: tuple[Deviation, ...]
    notes: tuple[str, ...]


def deviations(record: Record) -> tuple[Deviation, ...]:
    """Return every setting of a run that was made which is not as planned, run by run."""
    if record.planned is None:
        return ()
    found = []
    for i, run in enumerate(record.run):
        if record.status[i] is Status.MISSING:
            continue
        for j, factor in enumerate(record.trial.factors):
            planned = float(record.planned.values[i, j])
            as_run = float(record.as_run.values[i, j])
            if factor.role is not Role.OBSERVED and _differs(factor, planned, as_run):
                found.append(
                    Deviation(
                        run=int(run),
                        factor=factor.name,
                        planned=_shown(factor, planned),
                        as_run=_shown(factor, as_run),
                        in_sd=_in_sd(factor, planned, as_run),
                    )
                )
    return tuple(found)


def happened(record: Record) -> Happened:
    """Return what became of the runs against the plan (against themselves if there is none)."""
    off = deviations(record)
    count = record.status.count
    return Happened(
        n_planned=len(record.plan) if record.plan else len(record),
        n_done=count(Status.DONE),
        n_failed=count(Status.FAILED),
        n_excluded=count(Status.EXCLUDED),
        missing=_runs_with(record, Status.MISSING),
        deviations=off,
        notes=(
            *_missing_note(record),
            *_reasons(record),
            *_repeated_note(record),
            *_unknown_settings(record),
            *_shift_notes(record, off),
            *_sorted_notes(record),
            *record.notes,
        ),
    )


def _differs(factor: Factor, planned: float, as_run: float) -> bool:
    if not (np.isfinite(planned) and np.isfinite(as_run)):
        return False
    if isinstance(factor, Categorical):
        return planned != as_run
    return abs(as_run - planned) > ROUNDING * (factor.high - factor.low)


def _shown(factor: Factor, value: float) -> float | str:
    return factor.levels[int(value)] if isinstance(factor, Categorical) else value


def _in_sd(factor: Factor, planned: float, as_run: float) -> float | None:
    if isinstance(factor, Categorical) or not factor.setting_sd:
        return None
    return (as_run - planned) / factor.setting_sd


def _runs_with(record: Record, status: Status) -> tuple[int, ...]:
    return tuple(
        int(run) for run, one in zip(record.run, record.status, strict=True) if one is status
    )


def _missing_note(record: Record) -> tuple[str, ...]:
    missing = _runs_with(record, Status.MISSING)
    if not missing:
        return ()
    named = ", ".join(map(str, missing))
    return (f"Planned but not recorded: run{'s' if len(missing) > 1 else ''} {named}.",)


def _reasons(record: Record) -> tuple[str, ...]:
    words = {Status.EXCLUDED: "is excluded", Status.FAILED: "failed"}
    return tuple(
        f"Run {run} {words[status]}: {reason or 'no reason given'}."
        for run, status, reason in zip(record.run, record.status, record.reason, strict=True)
        if status in words
    )


def _repeated_note(record: Record) -> tuple[str, ...]:
    repeated = _runs_with(record, Status.REPEATED)
    if not repeated:
        return ()
    named = ", ".join(map(str, repeated))
    return (f"Made again under another number, not counted twice: run {named}.",)


def _unknown_settings(record: Record) -> tuple[str, ...]:
    done = np.array([status is Status.DONE for status in record.status])
    unknown = done & ~np.isfinite(record.as_run.values).all(axis=1)
    if not unknown.any():
        return ()
    named = ", ".join(str(run) for run in record.run[unknown])
    return (f"A setting was not recorded, so the run does not count: run {named}.",)


def _shift_notes(record: Record, off: tuple[Deviation, ...]) -> tuple[str, ...]:
    notes = []
    for factor in record.trial.factors:
        own = [one for one in off if one.factor == factor.name]
        if not own:
            continue
        if isinstance(factor, Categorical):
            named = ", ".join(str(one.run) for one in own)
            notes.append(f"{factor.name} was not at the planned level in run {named}.")
        else:
            notes.append(_shift_note(factor.name, factor.unit, own))
    return tuple(notes)


def _shift_note(name: str, unit: str, own: list[Deviation]) -> str:
    shifts = [float(one.as_run) - float(one.planned) for one in own]
    furthest = max(range(len(own)), key=lambda i: abs(shifts[i]))
    unit_words = f" {unit}" if unit not in ("", "1") else ""
    in_sd = own[furthest].in_sd
    beside = f", {abs(in_sd):.2g} setting sd" if in_sd is not None else ""
    return (
        f"{name} was off plan in {len(own)} run{'s' if len(own) > 1 else ''}: furthest "
        f"{shifts[furthest]:+.3g}{unit_words}{beside} in run {own[furthest].run}, on average "
        f"{np.mean(shifts):+.3g}{unit_words} over these."
    )


def _sorted_notes(record: Record) -> tuple[str, ...]:
    notes = []
    for name, readings in record.readings.items():
        rows = np.unique(readings.row)
        if rows.size < RUNS_TO_CALL_SORTED:
            continue
        means = np.array([readings.value[readings.row == row].mean() for row in rows])
        steps = np.diff(means)
        if ((steps >= 0).all() or (steps <= 0).all()) and steps.any():
            notes.append(
                f"{name} only ever {'rises' if steps.sum() > 0 else 'falls'} in the order of the "
                "runs: either the table was sorted, and its order is not that of the runs, or "
                "something drifted."
            )
    return tuple(notes)
