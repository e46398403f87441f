"""Rows that were understood to entries of the journal."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical
from workbench.errors import FileError
from workbench.files.entries import ReadingEntry, RunEntry, Setting
from workbench.run.record import Status
from workbench.steps.statuses import statuses_in

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.define.factors import Factor
    from workbench.files.entries import Entry
    from workbench.files.raw_table import RawTable
    from workbench.steps.adopt_excluded import Excluded
    from workbench.steps.adopt_facts import Facts
    from workbench.steps.adopt_layout import Layout
    from workbench.steps.adopt_made import Made


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
    """Return what columns and options say of each run.

    Raises
    ------
    FileError
        If a status is unknown, or a run is excluded without a reason.
    """
    statuses = statuses_in(made.table, layout.status.heading) if layout.status else ()
    reasons = {one.run: one.reason for one in excluded}
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
        found.append(RunStatus(run=run, status=status, reason=reason, note=_text(layout.notes, i)))
    return tuple(found)


def entries_of(made: Made, statuses: Sequence[RunStatus]) -> tuple[Entry, ...]:
    """Return one entry a run and one a reading, by run number."""
    entries: list[Entry] = []
    said = {one.run: one for one in statuses}
    rows_of_run: dict[int, list[int]] = {}
    for row, number in enumerate(made.rows.run.tolist()):
        rows_of_run.setdefault(number, []).append(row)
    known: dict[tuple[float, ...], tuple[Setting, ...]] = {}
    values = made.values.tolist()
    for i in sorted(made.first_rows(), key=lambda i: made.number[int(made.rows.run[i])]):
        run = made.number[int(made.rows.run[i])]
        key = tuple(values[i])
        settings = known.get(key)
        if settings is None:
            settings = known[key] = _settings(made.factors, key)
        entries.append(_run_entry(made, i, said[run], settings=settings))
        rows = rows_of_run[int(made.rows.run[i])]
        entries += [one for row in rows for one in _reading_entries(made, row, run=run)]
    return tuple(entries)


def _settings(factors: Sequence[Factor], values: tuple[float, ...]) -> tuple[Setting, ...]:
    return tuple(
        Setting(factor=factor.name, value=_setting(factor, value), unit=factor.unit)
        for factor, value in zip(factors, values, strict=True)
    )


def _run_entry(
    made: Made, row: int, said: RunStatus, *, settings: tuple[Setting, ...]
) -> RunEntry:
    return RunEntry(
        run=said.run,
        block=made.rows.block[row],
        blocked_by=made.blocked_by,
        setup=None if made.rows.setup is None else int(made.rows.setup[row]),
        settings=settings,
        status=said.status,
        reason=said.reason,
        note=said.note,
    )


def _setting(factor: Factor, value: float) -> float | str | None:
    if not np.isfinite(value):
        return None
    return factor.levels[int(value)] if isinstance(factor, Categorical) else value


def _reading_entries(made: Made, row: int, *, run: int) -> list[ReadingEntry]:
    found = []
    for column in made.outcomes:
        one = column.readings[row]
        if one is None:
            continue
        found.append(
            ReadingEntry(
                run=run,
                part=int(made.rows.part[row]),
                reading=int(made.rows.reading[row]),
                outcome=column.outcome.name,
                text=one.text,
                value=one.value,
                unit=str(getattr(column.outcome, "unit", "")),
                mark=one.mark,
            )
        )
    return found


def _text(facts: Facts | None, row: int) -> str:
    return facts.texts[row] if facts else ""


def _no_reason(table: RawTable, run: int, *, row: int) -> FileError:
    return FileError(
        f"Run {run} is excluded without a reason.",
        why="A run left out after looking can turn any result.",
        next_step="Write the reason into the column 'reason'.",
        place=f"{table.source}, row {table.rows[row].number}",
    )
