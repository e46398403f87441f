"""What a filled-in table says to journal entries: only what is new, never a contradiction."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.define.factors import Categorical
from workbench.errors import FileError
from workbench.files.entries import ReadingEntry, Reset, RunEntry, Setting
from workbench.files.held import reset_of
from workbench.files.reset_words import YES
from workbench.files.table_singles import LONG
from workbench.run.receipt import ReceiptLine
from workbench.run.record import Status
from workbench.steps.take_compare import ROUNDING, Comparison, in_words, rows_of_runs
from workbench.steps.take_long import new_table
from workbench.steps.take_moments import MADE

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from workbench.files.entries import Value
    from workbench.files.raw_table import RawTable
    from workbench.files.table_entry import TableEntry
    from workbench.steps.take_cells import Cells, Read
    from workbench.steps.take_compare import Before
    from workbench.steps.take_moments import Said


@dataclass(frozen=True, slots=True, kw_only=True)
class New:
    """What is new in a table, with lines on corrections and on what was known.

    `entries` are an entry a run and a reading, or one for all of a long table.
    """

    entries: tuple[RunEntry | ReadingEntry, ...] | tuple[TableEntry]
    lines: tuple[ReceiptLine, ...]


def new_entries(table: RawTable, cells: Cells, before: Before) -> New:
    """Return the entries that a table adds.

    Raises
    ------
    FileError
        If a row contradicts another, the plan, or itself.
    RecordError
        If it contradicts what someone else has entered and does not settle it.
    """
    _check_as_planned(table, cells, before)
    of_runs = _one_said(table, cells.of_runs)
    settings = _one_said(table, cells.settings)
    _check_reasons(table, of_runs, before)
    _check_new_runs(table, cells, {(one.run, one.what) for one in settings}, before=before)
    comparison = Comparison(
        table=table, before=before, why=_why(of_runs), row_of=rows_of_runs(before.record)
    )
    new_of_runs = [one for one in of_runs if comparison.adds(one)]
    new_settings = [one for one in settings if comparison.adds_setting(one)]
    new_readings = [one for one in cells.readings if comparison.adds_reading(one)]
    n_runs = len({one.run for one in (*new_of_runs, *new_settings)})
    entries: tuple[RunEntry | ReadingEntry, ...] | tuple[TableEntry]
    if n_runs + len(new_readings) > LONG:
        entries = (new_table(new_of_runs, new_settings, new_readings, comparison=comparison),)
    else:
        entries = (
            *_run_entries(new_of_runs, new_settings, comparison),
            *(_reading_entry(one, comparison) for one in new_readings),
        )
    known = len(cells.readings) - len(new_readings)
    summary = ReceiptLine(
        where=table.source,
        met=f"{len(cells.readings)} readings of {len({one.run for one in cells.readings})} runs",
        understood=f"{len(new_readings)} are new, {known} were recorded before"
        + ("" if entries else "; nothing new is added"),
    )
    return New(entries=entries, lines=(*comparison.lines, summary))


def _one_said(table: RawTable, said: Sequence[Said]) -> tuple[Said, ...]:
    """Return each thing said of a run once; rows of one run must agree."""
    seen: dict[tuple[int, str], Said] = {}
    for one in said:
        first = seen.setdefault((one.run, one.what), one)
        if first.value != one.value:
            raise FileError(
                f"Run {one.run} has {one.what} {one.value!r} here and {first.value!r} in row "
                f"{table.rows[first.row].number}.",
                why="A run is one setting of everything.",
                next_step="Correct one of them.",
                place=f"{table.source}, row {table.rows[one.row].number}",
            )
    return tuple(seen.values())


def _check_as_planned(table: RawTable, cells: Cells, before: Before) -> None:
    plan = before.record.plan
    for one in cells.planned:
        if plan is None or one.run > len(plan) or one.what not in plan.settings.names:
            continue
        factor = before.record.trial.factor(one.what)
        planned = float(plan.settings.column(one.what)[one.run - 1])
        shown: Value = planned
        same = False
        if isinstance(factor, Categorical):
            shown = factor.levels[int(planned)]
            same = shown == one.value
        else:
            same = bool(abs(float(one.value) - planned) <= ROUNDING * (factor.high - factor.low))
        if not same:
            raise FileError(
                f"Run {one.run} is planned at {one.what} {in_words(shown)}, but the table says "
                f"{in_words(one.value)}.",
                why="The plan stays as it was made; what was really set is kept beside it.",
                next_step=f"Put {in_words(shown)} back, and write what was set into the column "
                f"'{one.what} as run'.",
                place=f"{table.source}, row {table.rows[one.row].number}",
            )


def _check_reasons(table: RawTable, of_runs: Sequence[Said], before: Before) -> None:
    reasons = {one.run for one in of_runs if one.what == "reason"}
    for one in of_runs:
        if one.what != "status" or one.value != Status.EXCLUDED or one.run in reasons:
            continue
        if not before.held.of_run(one.run, "reason"):
            raise FileError(
                f"Run {one.run} is excluded without a reason.",
                why="A run left out after looking can turn any result.",
                next_step="Write the reason into the column 'reason'.",
                place=f"{table.source}, row {table.rows[one.row].number}",
            )


def _check_new_runs(
    table: RawTable, cells: Cells, stated: set[tuple[int, str]], *, before: Before
) -> None:
    """Refuse a run that nobody knows unless the table states all its settings."""
    known = set(before.record.run.tolist())
    named = {one.run for one in cells.readings} | {one.run for one in cells.of_runs}
    for run in sorted(named - known):
        lacking = [f.name for f in before.record.trial.factors if (run, f.name) not in stated]
        if lacking:
            raise FileError(
                f"Run {run} is neither planned nor recorded.",
                why="Its settings are not known, so it cannot be fitted.",
                next_step="Correct the run number; or, if it was added, state what was set in "
                f"{', '.join(f'{name} as run' for name in lacking)}.",
                place=table.source,
            )


def _run_entries(
    of_runs: Sequence[Said], settings: Sequence[Said], comparison: Comparison
) -> list[RunEntry]:
    said: dict[int, dict[str, Value]] = {}
    set_in: dict[int, list[Said]] = {}
    for one in of_runs:
        said.setdefault(one.run, {})[one.what] = one.value
    for one in settings:
        set_in.setdefault(one.run, []).append(one)
    return [
        _run_entry(run, said.get(run, {}), set_in.get(run, ()), comparison=comparison)
        for run in sorted({*said, *set_in})
    ]


def _run_entry(
    run: int, said: Mapping[str, Value], settings: Sequence[Said], *, comparison: Comparison
) -> RunEntry:
    before = comparison.before
    factors = before.record.trial.factors
    setup = said.get("setup")
    return RunEntry(
        run=run,
        block=str(said.get("block", "")),
        setup=None if setup is None else int(setup),
        settings=tuple(
            Setting(
                factor=one.what,
                value=one.value,
                unit=before.record.trial.factor(one.what).unit,
                reason=comparison.reason_of_setting(one),
            )
            for one in settings
        ),
        status=str(said.get("status", "")),
        reason=str(said.get("reason", "")),
        note=str(said.get("note", "")),
        settles=before.settles,
        resets=tuple(
            Reset(factor=factor.name, was_reset=said[reset_of(factor.name)] == YES)
            for factor in factors
            if reset_of(factor.name) in said
        ),
        made_at=str(said.get(MADE, "")),
    )


def _why(of_runs: Sequence[Said]) -> dict[int, str]:
    """Return what a table says of each run that may be the reason of a correction."""
    notes = {one.run: str(one.value) for one in of_runs if one.what == "note"}
    return notes | {one.run: str(one.value) for one in of_runs if one.what == "reason"}


def _reading_entry(one: Read, comparison: Comparison) -> ReadingEntry:
    before = comparison.before
    return ReadingEntry(
        run=one.run,
        part=one.part,
        reading=one.reading,
        outcome=one.outcome,
        text=one.cell.text,
        value=one.cell.value,
        unit=one.unit,
        mark=one.cell.mark,
        settles=before.settles,
        reason=comparison.reason_of_reading(one),
    )
