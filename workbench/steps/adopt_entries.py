"""Rows that were understood to one entry of the journal."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical
from workbench.errors import FileError
from workbench.files.table_entry import (
    ReadingColumn,
    SettingColumn,
    TableEntry,
    TableReadings,
    TableRuns,
    WordColumn,
)
from workbench.run.record import Status
from workbench.steps.statuses import statuses_in

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.files.raw_table import RawTable
    from workbench.steps.adopt_excluded import Excluded
    from workbench.steps.adopt_facts import Facts
    from workbench.steps.adopt_layout import Layout
    from workbench.steps.adopt_made import Made
    from workbench.steps.adopt_nouns import OutcomeColumn


@dataclass(frozen=True, slots=True, kw_only=True)
class RunStatus:
    """What is said of a run beside its settings; `status` is empty for a run that is done."""

    run: int
    status: str = ""
    reason: str = ""
    note: str = ""


def run_statuses(
    made: Made, layout: Layout, excluded: Sequence[Excluded]
) -> tuple[RunStatus, ...]:
    """Return what columns and options say of runs; a run of which they say nothing has none.

    Raises
    ------
    FileError
        If a status is unknown, or a run is excluded without a reason.
    """
    statuses = statuses_in(made.table, layout.status.heading) if layout.status else ()
    reasons = {one.run: one.reason for one in excluded}
    if not (statuses or reasons or layout.reason or layout.notes):
        return ()
    found = []
    for i in made.first_rows():
        run = made.number[int(made.rows.run[i])]
        said = statuses[i] if statuses else None
        status = "" if said in (None, Status.DONE) else str(said)
        reason = _text(layout.reason, i)
        if run in reasons:
            status, reason = Status.EXCLUDED, reasons[run]
        if status == Status.EXCLUDED and not reason:
            raise _no_reason(made.table, run, row=i)
        note = _text(layout.notes, i)
        if status or reason or note:
            found.append(RunStatus(run=run, status=status, reason=reason, note=note))
    return tuple(found)


def table_of(made: Made, statuses: Sequence[RunStatus]) -> TableEntry:
    """Return all runs and readings as one entry of the journal, by run number."""
    number = made.kept_numbers()
    first = np.array(made.first_rows(), dtype=np.int64)
    first = first[np.argsort(number[first])]
    order = np.argsort(number, kind="stable")
    return TableEntry(
        runs=_runs(made, first, statuses),
        readings=TableReadings(
            run=number[order],
            part=made.rows.part[order],
            reading=made.rows.reading[order],
            outcomes=tuple(_readings(column, order) for column in made.outcomes),
        ),
    )


def _runs(made: Made, first: NDArray[np.int64], statuses: Sequence[RunStatus]) -> TableRuns:
    run = made.kept_numbers()[first]
    of_run = {one.run: one for one in statuses}
    said = [of_run.get(one, RunStatus(run=one)) for one in run.tolist()] if of_run else []
    words = {
        "block": tuple(made.rows.block[row] for row in first.tolist()),
        "blocked_by": (made.blocked_by,) * run.size,
        "status": tuple(one.status for one in said),
        "reason": tuple(one.reason for one in said),
        "note": tuple(one.note for one in said),
    }
    return TableRuns(
        run=run,
        words=tuple(WordColumn(what=what, words=one) for what, one in words.items() if any(one)),
        setup=None if made.rows.setup is None else made.rows.setup[first],
        settings=tuple(
            _settings(factor, made.values[first, j]) for j, factor in enumerate(made.factors)
        ),
    )


def _settings(factor: Factor, values: NDArray[np.float64]) -> SettingColumn:
    said: NDArray[np.float64] | tuple[str | None, ...] = values
    if isinstance(factor, Categorical):
        known = np.isfinite(values).tolist()
        said = tuple(
            factor.levels[int(value)] if is_known else None
            for value, is_known in zip(values.tolist(), known, strict=True)
        )
    return SettingColumn(
        factor=factor.name,
        unit=factor.unit,
        said=np.ones(values.size, dtype=np.bool_),
        values=said,
    )


def _readings(column: OutcomeColumn, order: NDArray[np.int64]) -> ReadingColumn:
    found = [column.readings[row] for row in order.tolist()]
    return ReadingColumn(
        outcome=column.outcome.name,
        unit=str(getattr(column.outcome, "unit", "")),
        said=np.array([one is not None for one in found], dtype=np.bool_),
        values=np.array([0.0 if one is None else one.value for one in found], dtype=np.float64),
        marks=np.array([0 if one is None else one.mark for one in found], dtype=np.int64),
        texts=tuple("" if one is None else one.text for one in found),
    )


def _text(facts: Facts | None, row: int) -> str:
    return facts.texts[row] if facts else ""


def _no_reason(table: RawTable, run: int, *, row: int) -> FileError:
    return FileError(
        f"Run {run} is excluded without a reason.",
        why="A run left out after looking can turn any result.",
        next_step="Write the reason into the column 'reason'.",
        place=f"{table.source}, row {table.rows[row].number}",
    )
