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
from workbench.files.held import Held, held_now
from workbench.files.held_units import in_trial_unit, reset_of, setting_of, trial_unit
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
    from workbench.files.held_claims import HeldReadings
    from workbench.files.journal import Journal
    from workbench.plan.plans import Plan

__all__ = ["Held", "held_now", "in_trial_unit", "read_record", "setting_of", "trial_unit"]


def read_record(
    folder: Path,
    trial: Trial,
    plan: Plan | None,
    *,
    last_stands: bool = False,
    journal: Journal | None = None,
) -> Record:
    """Return what happened: every planned run and every run of which something was entered.

    A planned run of which no more than its block or setup was entered is missing. As-run settings
    that nobody entered are taken as planned. Of a factor that is only read, the planned column
    holds what was read. Where two writers differ, `last_stands` lets the latest entry stand: for
    whoever is about to settle it, and for nothing else. `journal` is that of the folder if it was
    read already.

    Raises
    ------
    FileError
        If the journal is not what was written.
    RecordError
        If two writers disagree, or an entry does not fit the trial.
    """
    found = read_journal(folder) if journal is None else journal
    held = held_now(found, trial, last_stands=last_stands)
    runs = _all_runs(held, plan)
    status = _statuses(held, runs)
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
        setup=_setups(held, plan, runs),
        status=status,
        reason=_texts(held.words_of_runs("reason", runs)),
        readings={one.name: _readings(held, one, runs) for one in trial.outcomes},
        blocked_by=_blocked_by(held, runs, block_labels),
        notes=(*found.notes, *_run_notes(held, runs)),
        resets=_resets(held, trial, runs),
        attachments=tuple(
            Attached(
                run=run,
                path=one.path,
                note=one.note,
                state=state_of(folder, one),
                part=one.part,
                outcome=one.outcome,
            )
            for (run, *_), one in sorted(held.attached.items(), key=lambda item: item[0])
        ),
        corrections=tuple(held.corrections),
        confirmed=tuple(held.confirmed.values()),
        made_at=_texts(held.words_of_runs("made at", runs)),
        entered=tuple(held.entered.get(run, "") for run in runs.tolist()),
    )


@dataclass(frozen=True, slots=True)
class _Runs:
    numbers: NDArray[np.int64]
    status: tuple[Status, ...]
    planned: NDArray[np.float64]


def _all_runs(held: Held, plan: Plan | None) -> NDArray[np.int64]:
    planned = range(1, len(plan) + 1) if plan else range(0)
    return np.array(sorted(held.run_numbers.union(planned)), dtype=np.int64)


def _texts(words: NDArray[np.object_]) -> tuple[str, ...]:
    return tuple(str(one or "") for one in words.tolist())


def _statuses(held: Held, runs: NDArray[np.int64]) -> tuple[Status, ...]:
    made = held.runs_made
    said = held.words_of_runs("status", runs).tolist()
    return tuple(
        (Status.DONE if run in made else Status.MISSING)
        if word is None
        else known_status(str(word), run)
        for run, word in zip(runs.tolist(), said, strict=True)
    )


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
    for j, factor in enumerate(trial.factors):
        what = setting_of(factor.name)
        said = held.are_said(what, runs.numbers)
        words = held.words_of_runs(what, runs.numbers)[said]
        values[said, j] = _settings(factor, words, runs.numbers[said])
    missing = [status is Status.MISSING for status in runs.status]
    values[np.array(missing, dtype=np.bool_)] = np.nan
    return values


def _settings(
    factor: Factor, said: NDArray[np.object_], runs: NDArray[np.int64]
) -> NDArray[np.float64]:
    if not isinstance(factor, Categorical):
        return _numbers(factor, said, runs)
    index = {said: _level(factor, said, run) for said, run in _firsts(said, runs).items()}
    return np.array([index[one] for one in said.tolist()], dtype=np.float64)


def _numbers(
    factor: Factor, said: NDArray[np.object_], runs: NDArray[np.int64]
) -> NDArray[np.float64]:
    words = [i for i, one in enumerate(said.tolist()) if isinstance(one, str)]
    if not words:
        return said.astype(np.float64)  # None becomes NaN
    run, word = int(runs[words[0]]), said[words[0]]
    raise RecordError(
        f"Run {run}, {factor.name}: the journal holds the word {word[:40]!r}.",
        why="trial.toml says that this factor is a number.",
        next_step=f"Make it categorical again in trial.toml, or correct run {run}.",
        place="results",
    )


def _firsts(said: NDArray[np.object_], runs: NDArray[np.int64]) -> dict[Value | None, int]:
    """Return the first run of which each thing is said."""
    firsts: dict[Value | None, int] = {}
    for one, run in zip(said.tolist(), runs.tolist(), strict=True):
        firsts.setdefault(one, run)
    return firsts


def _level(factor: Categorical, said: Value | None, run: int) -> float:
    if said is None:
        return math.nan
    try:
        return float(factor.index(str(said)))
    except DefinitionError as met:
        raise RecordError(
            met.wrong,
            why="What was entered cannot be placed.",
            next_step=f"Put the level back into trial.toml, or correct run {run}.",
            place="results",
        ) from None


def _with_observed(
    trial: Trial, planned: NDArray[np.float64], as_run: NDArray[np.float64]
) -> Settings:
    values = np.array(planned)
    for j, factor in enumerate(trial.factors):
        if factor.role is Role.OBSERVED:
            values[:, j] = as_run[:, j]
    return Settings(factors=trial.factors, values=values)


def _block_labels(held: Held, plan: Plan | None, runs: NDArray[np.int64]) -> list[str]:
    said = held.words_of_runs("block", runs).tolist()
    planned = _of_plan(runs, None if plan is None else plan.block, default=1).tolist()
    n = 0 if plan is None else len(plan)
    # A run that was never made carries the label that others of its planned block have.
    known = {
        block: str(label)
        for run, block, label in zip(runs.tolist(), planned, said, strict=True)
        if label is not None and run <= n
    }
    return [
        known.get(block, str(block)) if label is None else str(label)
        for block, label in zip(planned, said, strict=True)
    ]


def _of_plan(
    runs: NDArray[np.int64],
    planned: NDArray[np.int64] | None,
    *,
    default: NDArray[np.int64] | int,
) -> NDArray[np.int64]:
    """Return what the plan says of each run (n,), the default of runs that it has not."""
    found = np.array(np.broadcast_to(default, runs.shape), dtype=np.int64)
    if planned is not None:
        inside = runs <= planned.size
        found[inside] = planned[runs[inside] - 1]
    return found


def _setups(held: Held, plan: Plan | None, runs: NDArray[np.int64]) -> NDArray[np.int64]:
    setups = _of_plan(runs, None if plan is None else plan.setup, default=runs)
    said = held.words_of_runs("setup", runs)
    is_said = np.array([one is not None for one in said.tolist()], dtype=np.bool_)
    setups[is_said] = said[is_said].astype(np.int64)
    return setups


def _blocked_by(held: Held, runs: NDArray[np.int64], labels: Sequence[str]) -> str:
    if len(labels) < 2:
        return ""
    said = held.words_of_runs("blocked by", runs).tolist()
    return str(next((one for one in said if one), "block"))


def _resets(held: Held, trial: Trial, runs: NDArray[np.int64]) -> NDArray[np.int64]:
    found = np.full((runs.size, len(trial.factors)), RESET_UNSAID, dtype=np.int64)
    for j, factor in enumerate(trial.factors):
        said = held.words_of_runs(reset_of(factor.name), runs)
        found[said == "yes", j] = WAS_RESET
        found[said == "no", j] = NOT_RESET
    return found


def _readings(held: Held, outcome: Outcome, runs: NDArray[np.int64]) -> Readings:
    found = held.readings_of(outcome.name)
    _check_words(outcome, found)
    return Readings(
        row=np.searchsorted(runs, found.run).astype(np.int64),
        part=found.part,
        reading=found.reading,
        value=found.value,
        mark=found.mark,
    )


def _check_words(outcome: Outcome, found: HeldReadings) -> None:
    """Refuse the number of a grade, or of pass and fail, that trial.toml no longer has."""
    if isinstance(outcome, Graded):
        n_words = len(outcome.grades)
    elif isinstance(outcome, PassFail):
        n_words = 2
    else:
        return
    wrong = np.flatnonzero(~np.isin(found.value, np.arange(n_words)))
    if wrong.size:
        run, value = int(found.run[wrong[0]]), float(found.value[wrong[0]])
        raise RecordError(
            f"Run {run}, {outcome.name}: the journal holds {value:g}, the place of a word among "
            f"the {n_words} of the outcome, counted from 0.",
            why="The outcome had other words, or another kind, when the reading was entered.",
            next_step="Put the kind and the grades back into trial.toml as they were.",
            place="results",
        )


def _run_notes(held: Held, runs: NDArray[np.int64]) -> tuple[str, ...]:
    said = held.words_of_runs("note", runs).tolist()
    pairs = zip(runs.tolist(), said, strict=True)
    return tuple(f"Run {run}: {note}" for run, note in pairs if note)
