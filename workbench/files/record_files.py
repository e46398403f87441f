"""The record of a trial, made from its plan and its journal."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical, Role
from workbench.define.outcomes import Graded, PassFail
from workbench.define.settings import Settings
from workbench.errors import DefinitionError, RecordError
from workbench.files.attached_files import state_of
from workbench.files.held import (
    Held,
    held_now,
    in_trial_unit,
    reset_of,
    setting_of,
    trial_unit,
)
from workbench.files.journal import read_journal
from workbench.run.beside import Attached
from workbench.run.record import NOT_RESET, RESET_UNSAID, WAS_RESET, Readings, Record, Status

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.define.outcomes import Outcome
    from workbench.define.trial import Trial
    from workbench.files.entries import Value
    from workbench.plan.plans import Plan

__all__ = ["Held", "held_now", "in_trial_unit", "read_record", "setting_of", "trial_unit"]


def read_record(
    folder: Path, trial: Trial, plan: Plan | None, *, last_stands: bool = False
) -> Record:
    """Return what happened: every planned run and every run of which something was entered.

    A planned run of which no more than its block or setup was entered is missing. As-run settings
    that nobody entered are taken as planned. Of a factor that is only read, the planned column
    holds what was read. Where two writers differ, `last_stands` lets the latest entry stand: for
    whoever is about to settle it, and for nothing else.

    Raises
    ------
    FileError
        If the journal is not what was written.
    RecordError
        If two writers disagree, or an entry does not fit the trial.
    """
    journal = read_journal(folder)
    held = held_now(journal, trial, last_stands=last_stands)
    planned_runs = range(1, len(plan) + 1) if plan else range(0)
    entered = held.run_numbers
    runs = np.array(sorted({*planned_runs, *entered}), dtype=np.int64)
    made = held.runs_made
    status = tuple(_status(held, int(run), is_made=run in made) for run in runs)
    planned = _planned(trial, plan, runs)
    as_run = _as_run(held, trial, _Runs(runs, status, planned))
    labels = _block_labels(held, plan, runs)
    block_labels = tuple(dict.fromkeys(labels))
    place = {label: i for i, label in enumerate(block_labels)}
    return Record(
        trial=trial,
        plan=plan,
        run=runs,
        planned=_with_observed(trial, planned, as_run) if plan else None,
        as_run=Settings(factors=trial.factors, values=as_run),
        block=np.array([place[one] for one in labels], dtype=np.int64),
        block_labels=block_labels,
        setup=np.array([_setup(held, plan, int(run)) for run in runs], dtype=np.int64),
        status=status,
        reason=tuple(str(held.of_run(int(run), "reason") or "") for run in runs),
        readings={one.name: _readings(held, one, runs) for one in trial.outcomes},
        blocked_by=_blocked_by(held, runs, block_labels),
        notes=(*journal.notes, *_run_notes(held, runs)),
        resets=_resets(held, trial, runs),
        attachments=tuple(
            Attached(run=run, path=path, note=one.note, state=state_of(folder, one))
            for (run, path), one in sorted(held.attached.items())
        ),
        corrections=tuple(held.corrections),
        made_at=tuple(str(held.of_run(int(run), "made at") or "") for run in runs),
        entered=tuple(held.entered.get(int(run), "") for run in runs),
    )


@dataclass(frozen=True, slots=True)
class _Runs:
    numbers: NDArray[np.int64]
    status: tuple[Status, ...]
    planned: NDArray[np.float64]


def _status(held: Held, run: int, *, is_made: bool) -> Status:
    said = held.of_run(run, "status")
    if said is not None:
        return known_status(str(said), run)
    return Status.DONE if is_made else Status.MISSING


def known_status(word: str, run: int) -> Status:
    """Return the status that a word of the journal means.

    Raises
    ------
    RecordError
        If it means none.
    """
    if word in tuple(Status):
        return Status(word)
    raise RecordError(
        f"Run {run} has the status {word[:40]!r}.",
        why=f"A run is {', '.join(Status)}.",
        next_step="Take a table with the right status that settles it: "
        "`workbench take DIR TABLE --settle`.",
        place="results",
    )


def _planned(trial: Trial, plan: Plan | None, runs: NDArray[np.int64]) -> NDArray[np.float64]:
    values = np.full((runs.size, len(trial.factors)), np.nan)
    if plan is None:
        return values
    inside = runs <= len(plan)
    for j, factor in enumerate(trial.factors):
        if factor.name in plan.settings.names:
            values[inside, j] = plan.settings.column(factor.name)[runs[inside] - 1]
    return values


def _as_run(held: Held, trial: Trial, runs: _Runs) -> NDArray[np.float64]:
    values = np.array(runs.planned)
    for i, run in enumerate(runs.numbers):
        if runs.status[i] is Status.MISSING:
            values[i] = np.nan
            continue
        for j, factor in enumerate(trial.factors):
            if (int(run), setting_of(factor.name)) in held.runs:
                said = held.of_run(int(run), setting_of(factor.name))
                values[i, j] = _setting(factor, said, int(run))
    return values


def _setting(factor: Factor, said: Value | None, run: int) -> float:
    if said is None:
        return math.nan
    if not isinstance(factor, Categorical):
        return _number(factor, said, run)
    try:
        return float(factor.index(str(said)))
    except DefinitionError as met:
        raise RecordError(
            met.wrong,
            why="What was entered cannot be placed.",
            next_step=f"Put the level back into trial.toml, or correct run {run}.",
            place="results",
        ) from None


def _number(factor: Factor, said: Value, run: int) -> float:
    if not isinstance(said, str):
        return float(said)
    raise RecordError(
        f"Run {run}, {factor.name}: the journal holds the word {said[:40]!r}.",
        why="trial.toml says that this factor is a number.",
        next_step=f"Make it categorical again in trial.toml, or correct run {run}.",
        place="results",
    )


def _with_observed(
    trial: Trial, planned: NDArray[np.float64], as_run: NDArray[np.float64]
) -> Settings:
    values = np.array(planned)
    for j, factor in enumerate(trial.factors):
        if factor.role is Role.OBSERVED:
            values[:, j] = as_run[:, j]
    return Settings(factors=trial.factors, values=values)


def _block_labels(held: Held, plan: Plan | None, runs: NDArray[np.int64]) -> list[str]:
    said = {int(run): held.of_run(int(run), "block") for run in runs}
    # A run that was never made carries the label that others of its planned block have.
    known = {
        int(plan.block[run - 1]): str(label)
        for run, label in said.items()
        if plan and label is not None and run <= len(plan)
    }
    labels = []
    for run, label in said.items():
        planned = int(plan.block[run - 1]) if plan and run <= len(plan) else 1
        labels.append(str(label) if label is not None else known.get(planned, str(planned)))
    return labels


def _setup(held: Held, plan: Plan | None, run: int) -> int:
    said = held.of_run(run, "setup")
    if said is not None:
        return int(said)
    return int(plan.setup[run - 1]) if plan and run <= len(plan) else run


def _blocked_by(held: Held, runs: NDArray[np.int64], labels: Sequence[str]) -> str:
    if len(labels) < 2:
        return ""
    said = (held.of_run(int(run), "blocked by") for run in runs)
    return str(next((one for one in said if one), "block"))


def _resets(held: Held, trial: Trial, runs: NDArray[np.int64]) -> NDArray[np.int64]:
    found = np.full((runs.size, len(trial.factors)), RESET_UNSAID, dtype=np.int64)
    row_of = {run: i for i, run in enumerate(runs.tolist())}
    column_of = {reset_of(factor.name): j for j, factor in enumerate(trial.factors)}
    for run, what in held.runs:
        if what in column_of:
            was_reset = held.of_run(run, what) == "yes"
            found[row_of[run], column_of[what]] = WAS_RESET if was_reset else NOT_RESET
    return found


def _readings(held: Held, outcome: Outcome, runs: NDArray[np.int64]) -> Readings:
    keys = sorted(key for key in held.readings if key[0] == outcome.name)
    said = [found for key in keys if (found := held.reading(key)) is not None]
    for key, (value, _) in zip(keys, said, strict=True):
        _check_word(outcome, value, run=key[1])
    return Readings(
        row=np.searchsorted(runs, [key[1] for key in keys]).astype(np.int64),
        part=np.array([key[2] for key in keys], dtype=np.int64),
        reading=np.array([key[3] for key in keys], dtype=np.int64),
        value=np.array([value for value, _ in said], dtype=np.float64),
        mark=np.array([mark for _, mark in said], dtype=np.int64),
    )


def _check_word(outcome: Outcome, value: float, *, run: int) -> None:
    """Refuse the number of a grade, or of pass and fail, that trial.toml no longer has."""
    if isinstance(outcome, Graded):
        n_words = len(outcome.grades)
    elif isinstance(outcome, PassFail):
        n_words = 2
    else:
        return
    if value not in range(n_words):
        raise RecordError(
            f"Run {run}, {outcome.name}: the journal holds {value:g}, the place of a word among "
            f"the {n_words} of the outcome, counted from 0.",
            why="The outcome had other words, or another kind, when the reading was entered.",
            next_step="Put the kind and the grades back into trial.toml as they were.",
            place="results",
        )


def _run_notes(held: Held, runs: NDArray[np.int64]) -> tuple[str, ...]:
    said = ((int(run), held.of_run(int(run), "note")) for run in runs)
    return tuple(f"Run {run}: {note}" for run, note in said if note)
