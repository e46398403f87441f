"""What to run next: candidates of the classical kinds, the one that would help most first."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from workbench.decide.next_trial import Kind, NextTrials, Obstacle
from workbench.decide.next_trial_gain import enough
from workbench.decide.next_trial_kinds import MAKERS, Task
from workbench.decide.next_trial_runs import ground
from workbench.decide.next_trial_stand import stand
from workbench.decide.sample import MODEL_FORM
from workbench.decide.windows import Decision, Window
from workbench.errors import DecisionError, Unavailable

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.decide.next_trial import NextTrial
    from workbench.decide.windows import NoWindow
    from workbench.define.trial import Trial
    from workbench.fit.faces import Fit
    from workbench.plan.plans import Plan

# What is recommended against each obstacle, the next in turn where the first cannot be had.
AGAINST = {
    Obstacle.STRAIGHTNESS: (Kind.AXIAL, Kind.CORNERS),
    Obstacle.MIXED: (Kind.FOLD_OVER, Kind.AXIAL, Kind.CORNERS),
    Obstacle.SCATTER_UNKNOWN: (Kind.REPLICATES,),
    Obstacle.MISFIT: (Kind.AXIAL, Kind.CORNERS),
    Obstacle.TOO_FEW_RUNS: (Kind.REPLICATES, Kind.CORNERS),
    Obstacle.MODEL_FORM: (Kind.CORNERS, Kind.AXIAL),
    Obstacle.PROCESS: (Kind.FURTHER, Kind.LESS_SCATTER),
    Obstacle.EDGE: (Kind.FURTHER,),
    Obstacle.NOTHING: (),
}
BECAUSE = {
    Obstacle.STRAIGHTNESS: "nothing was tried between two levels, and these runs are there",
    Obstacle.MIXED: "effects that are one number cannot be decided on, and these runs part them",
    Obstacle.SCATTER_UNKNOWN: "too few runs are left to judge scatter by, and these add some",
    Obstacle.MISFIT: "the model does not follow its runs, and these show where it bends",
    Obstacle.TOO_FEW_RUNS: "the best point holds as far as can be told, and these runs can "
    "make sure of it",
    Obstacle.MODEL_FORM: "the best point holds if the model form is right, and these runs test "
    "it where it matters",
    Obstacle.PROCESS: "even if everything were known the best point would not do, so something "
    "else has to change",
    Obstacle.EDGE: "the window ends where the trial did, not where the process does",
    Obstacle.NOTHING: "nothing that runs could change stands in the way",
}


def next_trials(
    fits: Sequence[Fit],
    best: Window | NoWindow | Decision,
    plan: Plan,
    *,
    trial: Trial,
    seed: int,
    model_form: float = MODEL_FORM,
) -> NextTrials | Unavailable:
    """Return what to run next, the candidate that would help most first.

    Where there is no window, candidates are looked for around the nearest miss (or the middle
    of the ranges); where there is one, only if it ends at an edge of the range tried. The first
    is recommended by what stands in the way: terms that are one number, levels with nothing
    between them, scatter not known, a form that cannot be taken as right, too few runs, the
    process itself. General optimal augmentation, runs chosen by a criterion over all settings,
    belongs beside these kinds as one more entry of `MAKERS`.

    Parameters
    ----------
    fits
        The fits that the decision rests on; those of outcomes without a requirement take no part.
    best
        The decision, or its answer.
    plan
        The plan that the runs go on from.
    trial
        Its budget and constraints are respected.
    seed
        Of the draws that tell what stands in the way.
    model_form
        As in `window`.

    Raises
    ------
    DecisionError
        If the plan is over other factors than the fits.
    """
    answer = best.best if isinstance(best, Decision) else best
    if not set(plan.settings.names) <= set(fits[0].settings.names if fits else ()):
        raise DecisionError(
            "The plan has factors that no fit knows.",
            why="Added runs go on from the plan that gave the results.",
            next_step="Fit the outcomes of this trial first.",
        )
    at = stand(fits, answer, seed=seed, model_form=model_form)
    if at is None:
        return Unavailable(reason="no outcome has a requirement, so no runs could help to meet it")
    if at.obstacle is Obstacle.NOTHING:
        return Unavailable(
            reason="the window stops at requirements on every side, not for want of runs"
            if isinstance(answer, Window)
            else f"{BECAUSE[at.obstacle]}; mend what the answer names"
        )
    on = ground(at, plan.settings.factors, trial.constraints)
    task = Task(at=at, on=on, plan=plan, trial=trial, seed=seed)
    made = [
        one for kind, maker in MAKERS.items() if _fits(kind, at.obstacle) for one in maker(task)
    ]
    place = tuple(at.place.as_dicts()[0].items())
    return NextTrials(obstacle=at.obstacle, place=place, trials=_ranked(made, at.obstacle))


def _fits(kind: Kind, obstacle: Obstacle) -> bool:
    """Return whether a kind is offered: beside a window only what could widen its edges."""
    return obstacle is not Obstacle.EDGE or kind is Kind.FURTHER


def _ranked(made: list[NextTrial], obstacle: Obstacle) -> tuple[NextTrial, ...]:
    """Return the candidates with the recommended one first, each with why it is or is not."""
    there = {one.kind: one for one in made}
    useful = [there[kind] for kind in AGAINST[obstacle] if kind in there]
    chosen = _chosen(useful, obstacle)
    because = BECAUSE[obstacle]
    if obstacle is Obstacle.TOO_FEW_RUNS and not any(_does(one) for one in useful):
        because += "; by themselves they would not be enough, so let scatter fall as well"
    ranked = [
        replace(
            one,
            recommended=one.kind is chosen,
            why=f"{because}." if one.kind is chosen else _instead(obstacle),
        )
        for one in made
    ]
    return tuple(sorted(ranked, key=lambda one: not one.recommended))


def _chosen(useful: list[NextTrial], obstacle: Obstacle) -> Kind | None:
    """Return the first kind; where runs are what is lacking, the first that would be enough.

    Where none would be, it is the one that leaves the least to be wanted.
    """
    if obstacle is not Obstacle.TOO_FEW_RUNS or not useful:
        return useful[0].kind if useful else None
    good = [one for one in useful if _does(one)]
    return good[0].kind if good else min(useful, key=_wants).kind


def _does(one: NextTrial) -> bool:
    return enough(one.gain)


def _wants(one: NextTrial) -> float:
    if isinstance(one.gain, Unavailable) or isinstance(one.gain.needed_after, Unavailable):
        return float("inf")
    return one.gain.needed_after


def _instead(obstacle: Obstacle) -> str:
    return f"It can be run as well; what stands in the way first is that {obstacle.value}."
