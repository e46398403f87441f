"""Before the first run: the corner dry run in words, and the rule by which a trial stops."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.define.cautions import COMMON
from workbench.plan.repeats import USUAL_STOPPING_RULE, corner_dry_run

if TYPE_CHECKING:
    from workbench.define.settings import Settings
    from workbench.define.trial import Trial
    from workbench.plan.plans import Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class StoppingRule:
    """When to stop; `basis` says where the rule comes from, empty if the trial states it."""

    text: str
    basis: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DryRun:
    """Corners of the plan to try first, and what to do there in one or two sentences."""

    corners: Settings
    text: str


def stopping_rule(trial: Trial) -> StoppingRule:
    """Return the stopping rule that the trial states, or else the usual one, said to be that."""
    stated = trial.stopping_rule.strip()
    if stated:
        return StoppingRule(text=stated, basis="")
    return StoppingRule(text=USUAL_STOPPING_RULE, basis=COMMON)


def dry_run(plan: Plan) -> DryRun:
    """Return the corners to try before run 1 and the words that ask for it."""
    corners = corner_dry_run(plan)
    count = len(corners)
    where = "this setting" if count == 1 else "each of these corners"
    parts = "This part comes" if count == 1 else f"These {count} parts come"
    return DryRun(
        corners=corners,
        text=f"Before run {plan.first_run}: make one part at {where}; if one cannot be made at "
        f"all, stop and re-scope the ranges. {parts} on top of the plan and count as no run.",
    )
