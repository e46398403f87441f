"""Plan the runs of a trial: make them, say what they can and cannot tell, write them down."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench import files, plan
from workbench.define.outcomes import Measured
from workbench.errors import PlanError, Unavailable
from workbench.steps.plan_kinds import planned
from workbench.steps.trials import check_is_trial

if TYPE_CHECKING:
    from pathlib import Path

    from workbench.define.trial import Trial
    from workbench.plan.aliases import Alias
    from workbench.plan.plans import Plan
    from workbench.plan.power import TermPower
    from workbench.steps.plan_wish import PlanWish

ALPHA = 0.05  # the usual level of a two-sided test; common practice, said wherever it is used


@dataclass(frozen=True, slots=True, kw_only=True)
class OutcomePower:
    """The chance to detect `effect` (in the outcome's unit, a ratio on the log scale) by term."""

    outcome: Measured
    power: tuple[TermPower, ...] | Unavailable


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlanAnswer:
    """A plan and what it can tell: aliases of its terms, power for each measured outcome."""

    trial: Trial
    plan: Plan
    aliases: tuple[Alias, ...]
    power: tuple[OutcomePower, ...]


def make_plan(folder: Path, wish: PlanWish) -> PlanAnswer:
    """Make the plan that is asked for and write plan.csv and plan.toml.

    Raises
    ------
    WorkbenchError
        If the folder is no trial, results exist already, or there is no such plan.
    """
    check_is_trial(folder)
    trial = files.read_trial(folder)
    refuse_if_results(folder)
    made = planned(trial, wish)
    answer = PlanAnswer(
        trial=trial,
        plan=made,
        aliases=plan.aliases(made.terms, made.settings),
        power=tuple(_power(made, one) for one in trial.outcomes if isinstance(one, Measured)),
    )
    files.write_plan(folder, made)
    return answer


def refuse_if_results(folder: Path) -> None:
    """Refuse to touch the plan of a trial that has results.

    Raises
    ------
    PlanError
        If the journal holds anything.
    """
    results = folder / "results"
    if not results.is_dir() or not any(results.glob("*.jsonl")):
        return
    raise PlanError(
        "This trial has results already.",
        why="A new plan would part the results from the runs that gave them.",
        next_step="Plan a new trial in its own folder: copy trial.toml there.",
        place=str(folder),
    )


def _power(made: Plan, outcome: Measured) -> OutcomePower:
    return OutcomePower(outcome=outcome, power=_power_of(made, outcome))


def _power_of(made: Plan, outcome: Measured) -> tuple[TermPower, ...] | Unavailable:
    sd, effect = outcome.expected_sd, outcome.worth_finding
    if sd is None or effect is None:
        return Unavailable(
            reason="state worth_finding and expected_sd of this outcome in trial.toml"
        )
    if outcome.scale in ("as read", "log"):
        is_ratio = outcome.scale == "log"
        return plan.power(made, sd=sd, effect=effect, alpha=ALPHA, as_ratio=is_ratio)
    return Unavailable(
        reason=f"differences on the {outcome.scale} scale depend on where the outcome stands"
    )
