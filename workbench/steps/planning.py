"""Plan the runs of a trial: make them, say what they can and cannot tell, write them down."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench import files, plan
from workbench.define.factors import Stepped
from workbench.define.outcomes import Measured
from workbench.errors import OptionError, PlanError, Unavailable
from workbench.steps.trials import check_is_trial

if TYPE_CHECKING:
    from pathlib import Path

    from workbench.define.trial import Trial
    from workbench.plan.aliases import Alias
    from workbench.plan.plans import Plan
    from workbench.plan.power import TermPower

ALPHA = 0.05  # the usual level of a two-sided test; common practice, said wherever it is used
AXIAL = ("rotatable", "face", "orthogonal blocks")


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanWish:
    """What is asked of a plan; None or empty where the plan's own rule decides.

    `axial` is "rotatable", "face", "orthogonal blocks" or a number of half ranges as text.
    """

    kind: str = ""
    runs: int | None = None
    resolution: int | None = None
    axial: str = ""
    centre_points: int | None = None
    replicates: int = 1
    blocks: int = 1
    seed: int | None = None


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


def planned(trial: Trial, wish: PlanWish) -> Plan:
    """Return the plan that is asked for.

    Raises
    ------
    WorkbenchError
        If options contradict one another or there is no such plan.
    """
    kind = wish.kind or _usual_kind(trial, wish)
    seed = trial.seed if wish.seed is None else wish.seed
    _refuse_unused(kind, wish)
    match kind:
        case "composite":
            return _composite(trial, wish, seed=seed)
        case "fraction":
            return plan.fraction(
                trial,
                seed=seed,
                runs=wish.runs,
                resolution=wish.resolution,
                replicates=wish.replicates,
                centre_points=wish.centre_points or 0,
                blocks=wish.blocks,
            )
        case _:
            return plan.full(
                trial,
                seed=seed,
                replicates=wish.replicates,
                centre_points=wish.centre_points or 0,
                blocks=wish.blocks,
            )


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


def _usual_kind(trial: Trial, wish: PlanWish) -> str:
    if wish.runs is not None or wish.resolution is not None:
        return "fraction"
    return "composite" if trial.model == "second-order" else "full"


def _refuse_unused(kind: str, wish: PlanWish) -> None:
    """Refuse options that the kind of plan would not heed."""
    unused: list[tuple[str, object]] = []
    if kind != "composite":
        unused.append(("--axial", wish.axial or None))
    if kind == "full":
        unused.append(("--runs", wish.runs))
    if kind != "fraction":
        unused.append(("--resolution", wish.resolution))
    if kind == "composite":
        unused.append(("--replicates", None if wish.replicates == 1 else wish.replicates))
    for option, value in unused:
        if value is not None:
            raise OptionError(
                f"{option} says nothing to a plan of the kind {kind}.",
                why="An option that is not heeded would be lost without a word.",
                next_step="Leave it out, or ask for another --kind.",
                place=option,
            )


def _composite(trial: Trial, wish: PlanWish, *, seed: int) -> Plan:
    axial, blocks, runs = _axial(wish.axial or _usual_axial(trial)), wish.blocks, wish.runs
    if wish.centre_points is None:  # the plan's own usual number
        return plan.composite(trial, seed=seed, axial=axial, core_runs=runs, blocks=blocks)
    return plan.composite(
        trial,
        seed=seed,
        axial=axial,
        core_runs=runs,
        centre_points=wish.centre_points,
        blocks=blocks,
    )


def _usual_axial(trial: Trial) -> str:
    # Axial runs beyond the ends, or between them, are no steps of a dial.
    has_steps = any(isinstance(one, Stepped) for one in trial.planned_factors)
    return "face" if has_steps else "rotatable"


def _axial(text: str) -> str | float:
    if text in AXIAL:
        return text
    try:
        distance = float(text)
    except ValueError:
        distance = math.nan
    if math.isfinite(distance) and distance > 0:
        return distance
    raise OptionError(
        f"The axial distance is {text!r}.",
        why="Axial runs stand at a distance from the middle, in half ranges.",
        next_step=f"Write {', '.join(AXIAL)}, or a number such as 1.4.",
        place="--axial",
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
