"""The columns of the run sheet as a workbook: what stands in them and what may be entered."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.define.factors import Categorical
from workbench.define.outcomes import Counted, Graded, Measured
from workbench.define.waits import waiting_time
from workbench.files.headings import with_unit
from workbench.files.reset_words import NO, YES
from workbench.files.sheet_mark import MADE_AT, WHO, testable_from
from workbench.files.shown_values import shown_setting
from workbench.run.asked_resets import asked_resets, reset_heading
from workbench.run.record import Status

if TYPE_CHECKING:
    from workbench.define.factors import Factor
    from workbench.define.outcomes import Outcome
    from workbench.define.trial import Trial
    from workbench.plan.plans import Plan

ROOM = 0.5  # of the range, on either side: what was really set may lie beyond what was planned
STATUSES = tuple(str(one) for one in Status if one is not Status.MISSING)


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetColumn:
    """One column of the run sheet.

    `kind` is "planned", "as run", "reading", "count", "words", "moment", "computed" or "text".
    `values` are the cells as written, empty where all are to be filled in. `low` and `high` bound
    a number, `above_zero` says that its scale ends there, `choice` are the only words allowed.
    `planned` is the heading of the planned setting beside an as-run one, `hours` the wait behind a
    computed time. `open_rows` are the rows to fill in, empty where all are.
    """

    heading: str
    kind: str
    values: tuple[float | str, ...] = ()
    is_entry: bool = True
    choice: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None
    above_zero: bool = False
    planned: str = ""
    hours: float = 0.0
    hint: str = ""
    open_rows: tuple[bool, ...] = ()


def columns_for(trial: Trial, plan: Plan) -> tuple[SheetColumn, ...]:
    """Return the columns of a plan's run sheet, those of run_sheet.csv and a few for the bench."""
    taken = {one.name.casefold() for one in (*trial.factors, *trial.outcomes)}
    tail = [
        SheetColumn(heading="status", kind="words", choice=STATUSES, hint=_STATUS_HINT),
        SheetColumn(heading="reason", kind="text", hint="Why a run failed or is left out."),
        SheetColumn(heading="notes", kind="text"),
    ]
    if WHO not in taken:
        tail.append(SheetColumn(heading=WHO, kind="text", hint="Who made the run."))
    return (
        *_labels(trial, plan),
        *_planned(plan),
        *(_as_run(factor, plan) for factor in trial.factors),
        *_resets(plan),
        *(() if MADE_AT in taken else _waiting(trial)),
        *(column for one in trial.outcomes for column in _readings(one, plan.parts_per_run)),
        *tail,
    )


_STATUS_HINT = "Empty means done. An excluded run needs a reason."


def _labels(trial: Trial, plan: Plan) -> list[SheetColumn]:
    n = len(plan)
    runs = tuple(float(plan.first_run + i) for i in range(n))
    found = [SheetColumn(heading="run", kind="planned", values=runs, is_entry=False)]
    if plan.is_blocked:
        # The block is the one label that the bench puts a name to: the lot, shift or day.
        found.append(
            SheetColumn(
                heading="block",
                kind="text",
                values=tuple(float(one) for one in plan.block),
                hint="Write the lot, shift or day instead, the same in all runs of the block.",
            )
        )
    if any(factor.slow for factor in trial.factors):
        setups = tuple(float(one) for one in plan.setup)
        found.append(SheetColumn(heading="setup", kind="planned", values=setups, is_entry=False))
    return found


def _planned(plan: Plan) -> list[SheetColumn]:
    return [
        SheetColumn(
            heading=with_unit(factor.name, factor.unit),
            kind="planned",
            values=tuple(
                shown_setting(factor, float(value)) for value in plan.settings.column(factor.name)
            ),
            is_entry=False,
        )
        for factor in plan.settings.factors
    ]


def _as_run(factor: Factor, plan: Plan) -> SheetColumn:
    heading = with_unit(f"{factor.name} as run", factor.unit)
    is_planned = factor.name in plan.settings.names
    planned = with_unit(factor.name, factor.unit) if is_planned else ""
    hint = "Only where it differs from the plan." if planned else "What it was; nobody sets it."
    if isinstance(factor, Categorical):
        choice = factor.levels
        return SheetColumn(
            heading=heading, kind="words", choice=choice, planned=planned, hint=hint
        )
    room = ROOM * (factor.high - factor.low)
    return SheetColumn(
        heading=heading,
        kind="as run",
        low=factor.low - room,
        high=factor.high + room,
        planned=planned,
        hint=hint,
    )


def _resets(plan: Plan) -> list[SheetColumn]:
    return [
        SheetColumn(
            heading=reset_heading(one.factor),
            kind="words",
            choice=(YES, NO),
            open_rows=one.asked,
            hint=f"{one.factor} stays: was it taken away and set anew before this run?",
        )
        for one in asked_resets(plan)
    ]


def _waiting(trial: Trial) -> list[SheetColumn]:
    found = []
    for outcome in trial.outcomes:
        wait = waiting_time(outcome.wait)
        if wait is None:
            continue
        found.append(
            SheetColumn(
                heading=testable_from(outcome.name),
                kind="computed",
                is_entry=False,
                hours=wait.hours,
                hint=f"made at + {wait.words}",
            )
        )
    if not found:
        return []
    hint = "Date and time at which the parts were made. Ctrl+; enters the date."
    return [SheetColumn(heading=MADE_AT, kind="moment", hint=hint), *found]


def _readings(outcome: Outcome, parts: int) -> list[SheetColumn]:
    name = with_unit(outcome.name, str(getattr(outcome, "unit", "")))
    headings = [name] if parts == 1 else [f"{name}, part {k}" for k in range(1, parts + 1)]
    return [_reading(outcome, heading) for heading in headings]


def _reading(outcome: Outcome, heading: str) -> SheetColumn:
    wait = f"Wait: {outcome.wait}." if outcome.wait else ""
    if isinstance(outcome, Measured):
        return SheetColumn(
            heading=heading,
            kind="reading",
            low=outcome.gauge_low,
            high=outcome.gauge_high,
            above_zero=outcome.scale != "as read",
            hint=f"{_gauge_hint(outcome)} {wait}".strip(),
        )
    if isinstance(outcome, Counted):
        most = None if outcome.out_of is None else float(outcome.out_of)
        hint = "A whole number" + (f" out of {outcome.out_of}." if outcome.out_of else ".")
        return SheetColumn(
            heading=heading, kind="count", low=0.0, high=most, hint=f"{hint} {wait}".strip()
        )
    words = outcome.grades if isinstance(outcome, Graded) else (outcome.passes, outcome.fails)
    choice = words
    return SheetColumn(heading=heading, kind="words", choice=choice, hint=wait)


def _gauge_hint(outcome: Measured) -> str:
    ends = []
    if outcome.gauge_low is not None:
        ends.append(f"<{outcome.gauge_low:g}")
    if outcome.gauge_high is not None:
        ends.append(f">{outcome.gauge_high:g}")
    return f"Off the gauge: write {' or '.join(ends)}." if ends else ""
