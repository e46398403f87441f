"""The columns of the record panel: the entries of the run sheet, in the same words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.define.factors import Categorical, Role
from workbench.define.outcomes import Counted, Graded, Measured, PassFail
from workbench.files.headings import with_unit
from workbench.files.reset_words import NO, YES
from workbench.files.sheet_mark import MADE_AT
from workbench.run.asked_resets import asked_resets, reset_heading
from workbench.steps.panel_nouns import PanelColumn
from workbench.steps.statuses import STATUSES

if TYPE_CHECKING:
    from workbench.define.factors import Factor
    from workbench.define.outcomes import Outcome
    from workbench.define.trial import Trial
    from workbench.plan.plans import Plan
    from workbench.run.record import Record


def columns_of_panel(record: Record) -> tuple[PanelColumn, ...]:
    """Return the columns to fill in, settings first, then readings, then what is said of a run."""
    trial, plan = record.trial, record.plan
    return (
        *(_setting(factor, is_planned=plan is not None) for factor in trial.factors),
        *_resets(plan),
        *(column for one in trial.outcomes for column in _readings(one, _parts(record))),
        PanelColumn(
            key="status",
            label="status",
            unit="",
            kind="status",
            choices=tuple(map(str, STATUSES)),
            hint="Empty means done once a reading stands. Anything else asks for a reason.",
        ),
        PanelColumn(key="notes", label="note", unit="", kind="text"),
        *_made_at(trial),
    )


def _parts(record: Record) -> int:
    planned = record.plan.parts_per_run if record.plan is not None else 1
    seen = [int(one.part.max()) for one in record.readings.values() if len(one)]
    return max(1, planned, *seen) if seen else max(1, planned)


def _setting(factor: Factor, *, is_planned: bool) -> PanelColumn:
    asked = "Only where it differs from the plan."
    if factor.role is Role.OBSERVED:
        asked = "Read it; nobody sets it."
    elif not is_planned:
        asked = "What was really set."
    return PanelColumn(
        key=with_unit(f"{factor.name} as run", factor.unit),
        label=factor.name,
        unit=factor.unit,
        kind="setting",
        choices=factor.levels if isinstance(factor, Categorical) else (),
        hint=asked,
        is_number=not isinstance(factor, Categorical),
    )


def _resets(plan: Plan | None) -> list[PanelColumn]:
    if plan is None:
        return []
    return [
        PanelColumn(
            key=reset_heading(one.factor),
            label=reset_heading(one.factor),
            unit="",
            kind="reset",
            choices=(YES, NO),
            hint=f"{one.factor} stays: was it taken away and set anew before this run?",
        )
        for one in asked_resets(plan)
    ]


def _readings(outcome: Outcome, parts: int) -> list[PanelColumn]:
    unit = str(getattr(outcome, "unit", ""))
    name = with_unit(outcome.name, unit)
    return [
        PanelColumn(
            key=name if parts == 1 else f"{name}, part {part}",
            label=outcome.name if parts == 1 else f"{outcome.name}, part {part}",
            unit=unit,
            kind="reading",
            choices=_quick(outcome),
            hint=_hint(outcome),
            is_number=isinstance(outcome, Measured | Counted),
        )
        for part in range(1, parts + 1)
    ]


def _quick(outcome: Outcome) -> tuple[str, ...]:
    """Return what one tap enters: a word of the outcome, or the end of its gauge."""
    if isinstance(outcome, PassFail):
        return (outcome.passes, outcome.fails)
    if isinstance(outcome, Graded):
        return outcome.grades
    if not isinstance(outcome, Measured):
        return ()
    ends = (("<", outcome.gauge_low), (">", outcome.gauge_high))
    return tuple(f"{sign}{end:g}" for sign, end in ends if end is not None)


def _hint(outcome: Outcome) -> str:
    said = []
    if isinstance(outcome, PassFail | Graded):
        said.append(f"One of: {', '.join(_quick(outcome))}.")
    elif isinstance(outcome, Counted):
        said.append("A whole number" + (f" out of {outcome.out_of}." if outcome.out_of else "."))
    elif _quick(outcome):
        said.append(f"Off the gauge: {' or '.join(_quick(outcome))}.")
    if outcome.wait:
        said.append(f"Wait: {outcome.wait}.")
    return " ".join(said)


def _made_at(trial: Trial) -> list[PanelColumn]:
    taken = {one.name.casefold() for one in (*trial.factors, *trial.outcomes)}
    if MADE_AT in taken:
        return []
    hint = "Date and time, or the time alone for today. The button “Made now” writes it."
    return [PanelColumn(key=MADE_AT, label=MADE_AT, unit="", kind="moment", hint=hint)]
