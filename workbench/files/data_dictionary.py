"""The data dictionary: what each column of an export is, so that nobody has to guess later."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.define.factors import Categorical, Role, Stepped
from workbench.define.outcomes import Counted, Graded, Measured, PassFail
from workbench.files.headings import with_unit
from workbench.files.tidy_csv import TidyTable, setting_columns
from workbench.run.record import Status

if TYPE_CHECKING:
    from collections.abc import Iterator

    from workbench.define.factors import Factor
    from workbench.define.outcomes import Outcome
    from workbench.files.tidy_csv import SettingColumn
    from workbench.run.record import Record

HEADINGS = ("file", "column", "meaning", "kind", "unit", "allowed", "role", "limits", "how read")
LONG, WIDE = "readings.csv", "runs.csv"

_STATUSES = ", ".join(str(one) for one in Status)
_PLACES = (
    ("run", "number of the run, in the order of the plan", "whole number"),
    ("block", "lot, shift, day or cavity that the run belongs to", "text"),
    ("setup", "number of the reset of the slow settings", "whole number"),
    ("part", "part made in the run, counted from 1", "whole number"),
    ("reading", "reading taken on the part, counted from 1", "whole number"),
)
_LONG_REST = (
    ("outcome", "what was read", "text"),
    (
        "value",
        "the reading as a number (pass is 1, fail 0, a grade its place from 0); empty if none",
        "number",
    ),
    (
        "mark",
        "below or above where the gauge only says that; value is then the end of its range",
        "text",
    ),
    ("unit", "unit of value", "text"),
    ("shown", "the reading as a person writes it", "text"),
    ("status", f"what became of the run: {_STATUSES}", "text"),
    ("reason", "why the run is not simply done", "text"),
    (
        "who",
        "who entered the reading; where there is none, who last said anything of the run",
        "text",
    ),
    ("when", "when it was entered, UTC, ISO 8601", "time"),
)
_WIDE_REST = (
    ("status", f"what became of the run, empty where it was done: {_STATUSES}", "text"),
    ("reason", "why the run is not simply done", "text"),
    ("notes", "what was noted of the run", "text"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    """One column of one file."""

    file: str
    column: str
    meaning: str
    kind: str
    unit: str = ""
    allowed: str = ""
    role: str = ""
    limits: str = ""
    how_read: str = ""

    def cells(self) -> tuple[str, ...]:
        """Return the line in the order of `HEADINGS`."""
        return (
            self.file,
            self.column,
            self.meaning,
            self.kind,
            self.unit,
            self.allowed,
            self.role,
            self.limits,
            self.how_read,
        )


def data_dictionary(record: Record) -> TidyTable:
    """Return what each column of readings.csv and runs.csv is, and each outcome of the trial."""
    lines = (*_long(record), *_wide(record))
    return TidyTable(
        name="dictionary.csv", headings=HEADINGS, rows=tuple(one.cells() for one in lines)
    )


def _long(record: Record) -> Iterator[_Line]:
    yield from _fixed(LONG, _PLACES)
    for one in setting_columns(record, planned="{} planned"):
        yield _setting(LONG, one)
    yield from _fixed(LONG, _LONG_REST)
    for outcome in record.trial.outcomes:
        yield _outcome(LONG, f"value where outcome is {outcome.name}", outcome)


def _wide(record: Record) -> Iterator[_Line]:
    yield from _fixed(WIDE, _PLACES)
    for one in setting_columns(record, planned="{}"):
        yield _setting(WIDE, one)
    for outcome in record.trial.outcomes:
        unit = str(getattr(outcome, "unit", ""))
        yield _outcome(WIDE, with_unit(outcome.name, unit), outcome)
    yield from _fixed(WIDE, _WIDE_REST)


def _fixed(file: str, columns: tuple[tuple[str, str, str], ...]) -> Iterator[_Line]:
    for column, meaning, kind in columns:
        yield _Line(file=file, column=column, meaning=meaning, kind=kind)


def _setting(file: str, column: SettingColumn) -> _Line:
    factor = column.factor
    said = "as planned" if column.is_planned else "as it was really run"
    sd = "" if isinstance(factor, Categorical) else _sd(factor.setting_sd)
    return _Line(
        file=file,
        column=column.heading,
        meaning=f"setting of {factor.name}, {said}; empty where it is not known",
        kind="text" if isinstance(factor, Categorical) else "number",
        unit=factor.unit,
        allowed=_range(factor),
        role=_ROLES[factor.role],
        limits=sd,
    )


_ROLES = {
    Role.CONTROL: "set in the trial and in production",
    Role.NOISE: "set in the trial, varies in production",
    Role.OBSERVED: "only read",
}


def _range(factor: Factor) -> str:
    if isinstance(factor, Categorical):
        return "; ".join(factor.levels)
    if isinstance(factor, Stepped):
        return "; ".join(f"{step:g}" for step in factor.steps)
    return f"planned from {factor.low:g} to {factor.high:g}"


def _sd(value: float | None) -> str:
    return "setting sd not stated" if value is None else f"setting sd {value:g}"


def _outcome(file: str, column: str, outcome: Outcome) -> _Line:
    return _Line(
        file=file,
        column=column,
        meaning=f"reading of {outcome.name}",
        kind=_KINDS[type(outcome)],
        unit=str(getattr(outcome, "unit", "")),
        allowed=_allowed(outcome),
        role="outcome",
        limits=_limits(outcome),
        how_read=_how_read(outcome),
    )


_KINDS: dict[type, str] = {
    Measured: "number",
    PassFail: "pass or fail",
    Graded: "grade",
    Counted: "count",
}


def _allowed(outcome: Outcome) -> str:
    if isinstance(outcome, PassFail):
        return f"{outcome.passes} (1); {outcome.fails} (0)"
    if isinstance(outcome, Graded):
        return "; ".join(f"{grade} ({i})" for i, grade in enumerate(outcome.grades))
    if isinstance(outcome, Counted):
        return "whole numbers" if outcome.out_of is None else f"0 to {outcome.out_of}"
    ends = ((outcome.gauge_low, "gauge reads from"), (outcome.gauge_high, "gauge reads up to"))
    return "; ".join(f"{words} {end:g}" for end, words in ends if end is not None)


def _limits(outcome: Outcome) -> str:
    if isinstance(outcome, PassFail):
        return f"must be {outcome.passes}"
    asked = outcome.requirement
    if asked is None:
        return "no requirement stated"
    said = ((asked.low, "at least"), (asked.high, "at most"), (asked.target, "target"))
    shown = (f"{words} {_limit(outcome, end)}" for end, words in said if end is not None)
    return "; ".join(shown)


def _limit(outcome: Outcome, end: float) -> str:
    return outcome.grades[int(end)] if isinstance(outcome, Graded) else f"{end:g}"


def _how_read(outcome: Outcome) -> str:
    said = [outcome.method, f"after {outcome.wait}" if outcome.wait else ""]
    said += ["destroys the part"] * outcome.destructive
    if isinstance(outcome, Measured) and outcome.resolution is not None:
        said.append(f"in steps of {outcome.resolution:g}")
    return "; ".join(one for one in said if one)
