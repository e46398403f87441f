"""What a trial has not tested, in sentences that a meeting can act on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.decide.windows import Window
from workbench.define.factors import Categorical, Role
from workbench.define.outcomes import is_judged

if TYPE_CHECKING:
    from workbench.steps.trials import OpenTrial
    from workbench.steps.windows import WindowAnswer


def not_tested(
    opened: OpenTrial, answer: WindowAnswer | None, *, was_built: bool = False
) -> tuple[str, ...]:
    """Return what nothing in the trial vouches for; `was_built`: fresh parts were judged."""
    return (
        *_ranges(opened),
        *_held(opened),
        *_lots(opened),
        *_straightness(answer),
        *_outcomes(opened),
        *(() if was_built else _confirmation(answer)),
    )


def _ranges(opened: OpenTrial) -> list[str]:
    said = []
    for factor in opened.trial.planned_factors:
        if isinstance(factor, Categorical):
            said.append(f"{factor.name} other than {', '.join(factor.levels)}")
        else:
            unit = f" {factor.unit}" if factor.unit else ""
            said.append(f"{factor.name} below {factor.low:g} or above {factor.high:g}{unit}")
    return [f"{'; '.join(said)}."]


def _held(opened: OpenTrial) -> list[str]:
    if not opened.trial.held:
        return []
    held = "; ".join(f"{one.name} {one.value} {one.unit}".strip() for one in opened.trial.held)
    return [f"What was held: {held}. Another value may give another answer."]


def _lots(opened: OpenTrial) -> list[str]:
    record = opened.record
    if len(record.block_labels) < 2:
        return ["Another lot, day, operator or machine: all runs stood in one block."]
    name = record.blocked_by or "block"
    labels = ", ".join(record.block_labels)
    return [f"A new {name}: the answer is for the average of those tried ({labels})."]


def _straightness(answer: WindowAnswer | None) -> list[str]:
    if answer is None or not answer.accepted:
        return []
    return [f"A bend between the levels: straight lines were accepted, {answer.accepted}."]


def _outcomes(opened: OpenTrial) -> list[str]:
    said = [
        f"{one.name} has no requirement, so no window vouches for it."
        for one in opened.trial.outcomes
        if not is_judged(one)
    ]
    observed = [f.name for f in opened.trial.factors if f.role is Role.OBSERVED]
    if observed:
        said.append(
            f"{', '.join(observed)}: read, not set, so any effect may be of another cause."
        )
    return said


def _confirmation(answer: WindowAnswer | None) -> list[str]:
    if answer is None or not isinstance(answer.best, Window):
        return []
    said = (
        "The window itself: no confirmation run has been made. Build 3 to 10 fresh parts at the "
        "set point and at the tightest corner, with the prediction written down first."
    )
    return [said]
