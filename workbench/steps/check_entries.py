"""What the journal says, held against the trial and its plan, entry by entry."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from workbench.define.factors import Categorical
from workbench.errors import WorkbenchError
from workbench.files.entries import ReadingEntry, RunEntry
from workbench.files.journal import FOLDER, Journal
from workbench.files.record_files import held_now, known_status
from workbench.files.table_entry import TableEntry
from workbench.files.table_json import runs_of
from workbench.files.table_singles import rows_of
from workbench.steps.check_nouns import Remark, Remarks, remark

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from workbench.define.trial import Trial
    from workbench.files.entries import Setting
    from workbench.files.journal import Stamped
    from workbench.plan.plans import Plan

CLOCK_MAY_DIFFER = timedelta(minutes=5)  # between two machines of one plant
MOST_RUNS = 1_000_000
MOST_NAMED = 20  # rows of one table


def entry_remarks(journal: Journal, trial: Trial, plan: Plan | None, *, now: datetime) -> Remarks:
    """Return which entries do not fit the trial, contradict one another or have odd times."""
    fitting: list[Stamped] = []
    mend: list[Remark] = []
    for stamped in journal.entries:
        if isinstance(stamped.entry, TableEntry):
            found = _of_table(stamped, stamped.entry, trial)
            mend += found.wrong
            fitting += found.fitting
            continue
        wrong = tuple(_wrong(stamped, trial, place_of(stamped)))
        mend += wrong
        if not wrong:
            fitting.append(stamped)
    mend += _conflicts(Journal(entries=tuple(fitting), notes=()), trial)
    notes = [Remark(place=FOLDER, wrong=note) for note in journal.notes]
    notes += _unplanned(fitting, plan)
    notes += _clocks(journal.entries, now)
    return Remarks(mend=tuple(mend), notes=tuple(notes))


def place_of(stamped: Stamped) -> str:
    """Return where an entry stands; its number is its line unless a line before it is torn."""
    return f"{FOLDER}/{stamped.writer}.jsonl, entry {stamped.sequence}"


@dataclass(frozen=True, slots=True)
class _Sorted:
    """Entries that fit the trial, and what is wrong with the others."""

    fitting: tuple[Stamped, ...]
    wrong: tuple[Remark, ...]


def _of_table(stamped: Stamped, table: TableEntry, trial: Trial) -> _Sorted:
    """Look at a table as a whole, and only if anything is wrong row by row."""
    if _fits(stamped, table, trial):
        return _Sorted((stamped,), ())
    fitting: list[Stamped] = []
    wrong: list[Remark] = []
    n_more = 0
    for row in rows_of(table):
        one = replace(stamped, entry=row.entry)
        found = tuple(_wrong(one, trial, f"{place_of(stamped)}, {row.place}"))
        if not found:
            fitting.append(one)
        elif len(wrong) < MOST_NAMED:
            wrong += found
        else:
            n_more += 1
    if n_more:
        more = f"{n_more} more rows of this table do not fit the trial."
        wrong.append(Remark(place=place_of(stamped), wrong=more))
    return _Sorted(tuple(fitting), tuple(wrong))


def _fits(stamped: Stamped, table: TableEntry, trial: Trial) -> bool:
    runs = table.runs_named
    if runs.size and not 1 <= runs[0] <= runs[-1] <= MOST_RUNS:
        return False
    try:
        held_now(Journal(entries=(stamped,), notes=()), trial)
        for status in set(table.runs.said("status")) - {""}:
            known_status(status, 0)
        for column in table.runs.settings:
            factor = trial.factor(column.factor)
            if isinstance(factor, Categorical):
                for level in set(column.known):
                    factor.index(str(level))
    except WorkbenchError:
        return False
    return True


def _wrong(stamped: Stamped, trial: Trial, place: str) -> Iterator[Remark]:
    """Yield what makes an entry unfit, found by placing it alone."""
    entry = stamped.entry
    if isinstance(entry, RunEntry | ReadingEntry) and not 1 <= entry.run <= MOST_RUNS:
        yield Remark(
            place=place,
            wrong=f"The run number is {entry.run}.",
            why="Runs are counted from 1.",
            next_step="Put the journal back from a copy.",
        )
        return
    try:
        held_now(Journal(entries=(stamped,), notes=()), trial)
    except WorkbenchError as met:
        yield remark(met.at(place))
        return
    if isinstance(entry, RunEntry):
        yield from _wrong_status(entry, place)
        yield from _wrong_levels(entry.settings, trial, place)


def _wrong_status(entry: RunEntry, place: str) -> Iterator[Remark]:
    if entry.status:
        try:
            known_status(entry.status, entry.run)
        except WorkbenchError as met:
            yield remark(met.at(place))


def _wrong_levels(settings: Iterable[Setting], trial: Trial, place: str) -> Iterator[Remark]:
    for one in settings:
        factor = trial.factor(one.factor)
        if isinstance(factor, Categorical) and one.value is not None:
            try:
                factor.index(str(one.value))
            except WorkbenchError as met:
                yield remark(met.at(place))


def _conflicts(journal: Journal, trial: Trial) -> Iterator[Remark]:
    try:
        held = held_now(journal, trial)
    except WorkbenchError as met:
        yield remark(met, place=FOLDER)
        return
    for run, what in sorted(held.runs.disputable()):
        try:
            held.of_run(run, what)
        except WorkbenchError as met:
            yield remark(met, place=FOLDER)
    for key in sorted(held.readings.disputable()):
        try:
            held.reading(key)
        except WorkbenchError as met:
            yield remark(met, place=FOLDER)


def _unplanned(entries: Iterable[Stamped], plan: Plan | None) -> Iterator[Remark]:
    if plan is None:
        return
    runs = {run for one in entries for run in runs_of(one.entry)}
    beyond = sorted(run for run in runs if run > len(plan))
    if beyond:
        yield Remark(
            place=FOLDER,
            wrong=f"Entries for runs that are not planned: {', '.join(map(str, beyond[:12]))}"
            f"{' …' if len(beyond) > 12 else ''}; the plan has {len(plan)} runs.",
            next_step="If a run number was mistyped, enter the run under its own number and "
            "exclude this one with the reason.",
        )


def _clocks(entries: Iterable[Stamped], now: datetime) -> Iterator[Remark]:
    """Yield one remark a writer: a time that cannot be read, runs backwards or is yet to come."""
    last: dict[str, datetime] = {}
    said: set[str] = set()
    for stamped in sorted(entries, key=lambda one: (one.writer, one.sequence)):
        if stamped.writer in said:
            continue
        when = _time(stamped.when)
        before = last.get(stamped.writer)
        odd = _odd(stamped.when, when, before=before, now=now)
        if odd:
            said.add(stamped.writer)
            yield Remark(
                place=place_of(stamped),
                wrong=odd,
                next_step="Set the clock of that machine; who entered what last is told by it.",
            )
        if when is not None:
            last[stamped.writer] = when


def _odd(written: str, when: datetime | None, *, before: datetime | None, now: datetime) -> str:
    if when is None:
        return f"The time {written[:40]!r} cannot be read."
    if before is not None and when < before - CLOCK_MAY_DIFFER:
        return f"The clock went back, from {before:%Y-%m-%d %H:%M} to {when:%Y-%m-%d %H:%M} UTC."
    if when > now + CLOCK_MAY_DIFFER:
        return f"The time {when:%Y-%m-%d %H:%M} UTC is yet to come."
    return ""


def _time(written: str) -> datetime | None:
    try:
        when = datetime.fromisoformat(written)
    except ValueError:
        return None
    return None if when.tzinfo is None else when
