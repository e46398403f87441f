"""From a wish to a plan: which kind it is, which options that kind heeds, and making it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from workbench import plan
from workbench.define.factors import Stepped
from workbench.errors import OptionError

if TYPE_CHECKING:
    from collections.abc import Callable

    from workbench.define.trial import Trial
    from workbench.plan.plans import Plan
    from workbench.steps.plan_wish import PlanWish

    Maker = Callable[[Trial, PlanWish, int], Plan]

AXIAL = ("rotatable", "face", "uncorrelated squares", "orthogonal blocks")

# Which options each kind of plan heeds; any other one is refused, not passed over.
HEEDED: dict[str, frozenset[str]] = {
    "full": frozenset({"--centre-points", "--centre-at", "--replicates", "--blocks"}),
    "fraction": frozenset(
        {"--runs", "--resolution", "--centre-points", "--centre-at", "--replicates", "--blocks"}
    ),
    "composite": frozenset({"--runs", "--axial", "--centre-points", "--blocks"}),
    "screening": frozenset({"--runs", "--centre-points", "--centre-at", "--replicates"}),
    "definitive": frozenset({"--extra-pairs"}),
    "box-behnken": frozenset({"--centre-points", "--blocks"}),
    "orthogonal": frozenset({"--runs", "--replicates"}),
    "latin-square": frozenset(),
    "incomplete-blocks": frozenset({"--block-size"}),
    "taken": frozenset({"--runs-at-most"}),
}


def planned(trial: Trial, wish: PlanWish) -> Plan:
    """Return the plan that is asked for, with repeats and an order against drift if asked.

    Raises
    ------
    WorkbenchError
        If options contradict one another or there is no such plan.
    """
    if wish.take and wish.kind:
        raise OptionError(
            f"--take {wish.take} and --kind {wish.kind} were both given.",
            why="A candidate is of a kind already.",
            next_step="Leave one of them out.",
            place="--take",
        )
    kind = "taken" if wish.take else wish.kind or _usual_kind(trial, wish)
    seed = trial.seed if wish.seed is None else wish.seed
    _refuse_unused(kind, wish)
    made = MAKERS[kind](trial, wish, seed)
    if wish.repeats:
        made = plan.with_repeats(made, n_repeats=wish.repeats, seed=seed)
    return plan.against_drift(made, seed=seed) if wish.against_drift else made


def _usual_kind(trial: Trial, wish: PlanWish) -> str:
    if wish.block_size is not None:
        return "incomplete-blocks"
    if wish.runs is not None or wish.resolution is not None:
        return "fraction"
    return "composite" if trial.model == "second-order" else "full"


def _refuse_unused(kind: str, wish: PlanWish) -> None:
    """Refuse options that the kind of plan would not heed."""
    given = (
        ("--axial", wish.axial or None),
        ("--runs", wish.runs),
        ("--resolution", wish.resolution),
        ("--centre-points", wish.centre_points),
        ("--centre-at", None if wish.centre_at == "every" else wish.centre_at),
        ("--replicates", None if wish.replicates == 1 else wish.replicates),
        ("--blocks", None if wish.blocks == 1 else wish.blocks),
        ("--block-size", wish.block_size),
        ("--extra-pairs", wish.extra_pairs or None),
        ("--runs-at-most", wish.runs_at_most),
    )
    for option, value in given:
        if value is None or option in HEEDED[kind]:
            continue
        heeding = [one for one, options in HEEDED.items() if option in options and one != "taken"]
        said = "--kind " + " or ".join(heeding) if heeding else "--take NAME"
        raise OptionError(
            f"{option} says nothing to a plan "
            + ("that is taken by its name." if kind == "taken" else f"of the kind {kind}."),
            why="An option that is not heeded would be lost without a word.",
            next_step=f"Leave it out, or ask for {said}.",
            place=option,
        )


def _full(trial: Trial, wish: PlanWish, seed: int) -> Plan:
    return plan.full(
        trial,
        seed=seed,
        replicates=wish.replicates,
        centre_points=wish.centre_points or 0,
        centre_at=wish.centre_at,
        blocks=wish.blocks,
    )


def _fraction(trial: Trial, wish: PlanWish, seed: int) -> Plan:
    return plan.fraction(
        trial,
        seed=seed,
        runs=wish.runs,
        resolution=wish.resolution,
        replicates=wish.replicates,
        centre_points=wish.centre_points or 0,
        centre_at=wish.centre_at,
        blocks=wish.blocks,
    )


def _composite(trial: Trial, wish: PlanWish, seed: int) -> Plan:
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


def _screening(trial: Trial, wish: PlanWish, seed: int) -> Plan:
    return plan.screening(
        trial,
        seed=seed,
        runs=wish.runs,
        replicates=wish.replicates,
        centre_points=wish.centre_points or 0,
        centre_at=wish.centre_at,
    )


def _definitive(trial: Trial, wish: PlanWish, seed: int) -> Plan:
    return plan.definitive(trial, seed=seed, extra_pairs=wish.extra_pairs)


def _box_behnken(trial: Trial, wish: PlanWish, seed: int) -> Plan:
    return plan.box_behnken(trial, seed=seed, centre_points=wish.centre_points, blocks=wish.blocks)


def _orthogonal(trial: Trial, wish: PlanWish, seed: int) -> Plan:
    return plan.orthogonal(trial, seed=seed, runs=wish.runs, replicates=wish.replicates)


def _latin_square(trial: Trial, _wish: PlanWish, seed: int) -> Plan:
    return plan.latin_square(trial, seed=seed)


def _incomplete_blocks(trial: Trial, wish: PlanWish, seed: int) -> Plan:
    if wish.block_size is None:
        raise OptionError(
            "Incomplete blocks were asked for without their size.",
            why="The size of a lot, a shift or a load decides which blocks there can be.",
            next_step="Add --block-size N, the number of runs that fit in one block.",
            place="--block-size",
        )
    return plan.incomplete_blocks(trial, seed=seed, block_size=wish.block_size)


def _taken(trial: Trial, wish: PlanWish, seed: int) -> Plan:
    return plan.candidate_named(trial, wish.take, seed=seed, runs_at_most=wish.runs_at_most)


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


MAKERS: dict[str, Maker] = {
    "full": _full,
    "fraction": _fraction,
    "composite": _composite,
    "screening": _screening,
    "definitive": _definitive,
    "box-behnken": _box_behnken,
    "orthogonal": _orthogonal,
    "latin-square": _latin_square,
    "incomplete-blocks": _incomplete_blocks,
    "taken": _taken,
}
