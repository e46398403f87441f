"""Which column of a filled-in table is what, by the headings that the run sheet writes."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.errors import FileError
from workbench.files.headings import Heading, in_brackets, unguarded, with_unit
from workbench.files.sheet_mark import MADE_AT, WHO, testable_from
from workbench.run.asked_resets import reset_heading
from workbench.run.receipt import ReceiptLine

if TYPE_CHECKING:
    from workbench.define.factors import Factor
    from workbench.define.outcomes import Outcome
    from workbench.define.trial import Trial
    from workbench.files.raw_table import RawTable

STRUCTURE = ("run", "block", "setup", "part", "reading", "status", "reason", "notes", WHO)
_PLACE = re.compile(
    r"(?P<rest>.*?)(?:,\s*part\s+(?P<part>\d{1,6}))?(?:,\s*reading\s+(?P<reading>\d{1,6}))?"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingColumn:
    """A column of settings: as they were run, or as they were planned."""

    heading: str
    factor: Factor
    written_in: str
    as_run: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class OutcomeColumn:
    """A column of readings; `part` and `reading` are None where the heading names none."""

    heading: str
    outcome: Outcome
    written_in: str
    part: int | None
    reading: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ResetColumn:
    """A column of answers to "was it reset?" for one factor."""

    heading: str
    factor: Factor


@dataclass(frozen=True, slots=True, kw_only=True)
class Columns:
    """The columns of a table; headings of the structure are empty where there is none."""

    run: str
    block: str
    setup: str
    part: str
    reading: str
    status: str
    reason: str
    notes: str
    who: str
    made_at: str
    settings: tuple[SettingColumn, ...]
    outcomes: tuple[OutcomeColumn, ...]
    resets: tuple[ResetColumn, ...]
    lines: tuple[ReceiptLine, ...]


def columns_of(table: RawTable, trial: Trial, *, has_plan: bool) -> Columns:
    """Return what each column is; a heading that says nothing known is left out and named.

    Raises
    ------
    FileError
        If there is no column of run numbers, or a column of readings is there twice.
    """
    own = {one.name.casefold() for one in (*trial.factors, *trial.outcomes)} & {WHO}
    structure = {
        unguarded(heading).casefold(): heading
        for heading in table.headings
        if unguarded(heading).casefold() in STRUCTURE and unguarded(heading).casefold() not in own
    }
    if "run" not in structure:
        raise FileError(
            "There is no column 'run'.",
            why="Readings find their run by its number.",
            next_step="Fill in run_sheet.csv or run_sheet.xlsx, or add a column 'run' with "
            "the run numbers.",
            place=table.source,
        )
    bench = {testable_from(one.name).casefold() for one in trial.outcomes}
    others = [heading for heading in table.headings if heading not in structure.values()]
    found = {heading: _column(heading, trial, has_plan=has_plan) for heading in others}
    times = [h for h in others if found[h] is None and unguarded(h).casefold() == MADE_AT]
    lines = []
    for heading in others:
        is_of_bench = found[heading] is None and unguarded(heading).casefold() in bench
        if is_of_bench:
            lines.append(_bench_line(table, heading))
        elif heading not in times:
            lines.append(_line(table, heading, found[heading]))
    outcomes = [one for one in found.values() if isinstance(one, OutcomeColumn)]
    _check_once(table, outcomes)
    return Columns(
        settings=tuple(one for one in found.values() if isinstance(one, SettingColumn)),
        outcomes=tuple(outcomes),
        resets=tuple(one for one in found.values() if isinstance(one, ResetColumn)),
        made_at=times[0] if times else "",
        lines=tuple(lines),
        **{name: structure.get(name, "") for name in STRUCTURE},
    )


Found = SettingColumn | OutcomeColumn | ResetColumn | None


def _column(heading: str, trial: Trial, *, has_plan: bool) -> Found:
    found = _PLACE.fullmatch(unguarded(heading).strip())
    rest = found["rest"] if found else heading
    for factor in trial.factors:
        for name, as_run in ((f"{factor.name} as run", True), (factor.name, not has_plan)):
            parts = _matches(rest, name, factor.unit)
            if parts is not None:
                return SettingColumn(
                    heading=heading, factor=factor, written_in=parts.unit, as_run=as_run
                )
    for factor in trial.factors:
        if rest.casefold() == reset_heading(factor.name).casefold():
            return ResetColumn(heading=heading, factor=factor)
    for outcome in trial.outcomes:
        parts = _matches(rest, outcome.name, str(getattr(outcome, "unit", "")))
        if parts is not None:
            return OutcomeColumn(
                heading=heading,
                outcome=outcome,
                written_in=parts.unit,
                part=_whole(found, "part"),
                reading=_whole(found, "reading"),
            )
    return None


def _matches(text: str, name: str, unit: str) -> Heading | None:
    """Return the heading taken apart if it means that name, None if not."""
    if text.casefold() in (name.casefold(), with_unit(name, unit).casefold()):
        return Heading(name=name, unit="")
    parts = in_brackets(text)
    return parts if parts.name.casefold() == name.casefold() else None


def _whole(found: re.Match[str] | None, group: str) -> int | None:
    return int(found[group]) if found and found[group] else None


def _bench_line(table: RawTable, heading: str) -> ReceiptLine:
    return ReceiptLine(
        where=table.column_place(heading),
        met=f"the heading {heading!r}",
        understood="times for the bench; they stay in the sheet",
    )


def _line(table: RawTable, heading: str, found: Found) -> ReceiptLine:
    where = table.column_place(heading)
    if found is None:
        return ReceiptLine(
            where=where,
            met="a heading that names nothing of this trial",
            understood="left out",
            sure=False,
        )
    return ReceiptLine(where=where, met=f"the heading {heading!r}", understood=_words(found))


def _words(found: SettingColumn | OutcomeColumn | ResetColumn) -> str:
    if isinstance(found, ResetColumn):
        return f"whether {found.factor.name} was reset before the run"
    if isinstance(found, OutcomeColumn):
        return f"readings of {found.outcome.name}" + (f", part {found.part}" if found.part else "")
    if found.as_run:
        return f"{found.factor.name} as it was run; as planned where empty"
    return f"{found.factor.name} as planned, compared with the plan"


def _check_once(table: RawTable, outcomes: list[OutcomeColumn]) -> None:
    places = [(one.outcome.name, one.part, one.reading) for one in outcomes]
    for one, place in zip(outcomes, places, strict=True):
        if places.count(place) > 1:
            raise FileError(
                f"{one.outcome.name!r} has two columns for the same part and reading.",
                why="One reading has one value.",
                next_step='Head them ", part 1", ", part 2" and so on.',
                place=table.column_place(one.heading),
            )
