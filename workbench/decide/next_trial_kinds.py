"""The kinds of next trial: when each applies, in words, with its runs and what they change."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.decide import next_trial_runs as making
from workbench.decide.next_trial import Gain, Kind, MovedRange, NextTrial, Obstacle
from workbench.decide.next_trial_fold import folded
from workbench.decide.next_trial_gain import enough, gain, holds_already
from workbench.decide.next_trial_scatter import scatter_words
from workbench.decide.next_trial_stand import controls
from workbench.decide.straightness import two_level_factors
from workbench.define.factors import Stepped
from workbench.define.settings import Settings
from workbench.define.terms import preset
from workbench.errors import DefinitionError, Unavailable

if TYPE_CHECKING:
    from collections.abc import Callable

    from workbench.decide.next_trial_runs import Ground, Runs
    from workbench.decide.next_trial_stand import Stand
    from workbench.define.terms import Terms
    from workbench.define.trial import Trial
    from workbench.plan.plans import Plan

FEWEST, MOST, USUAL = 4, 16, 6  # replicates: what is tried, and what is offered if none is enough


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Task:
    """Where a decision stands, where runs may lie, and the plan that they go on from."""

    at: Stand
    on: Ground
    plan: Plan
    trial: Trial
    seed: int

    @property
    def where(self) -> str:
        """What the place is called."""
        return "the nearest miss" if self.at.obstacle in AT_MISS else "the middle of the ranges"


AT_MISS = (Obstacle.TOO_FEW_RUNS, Obstacle.MODEL_FORM, Obstacle.PROCESS)


def replicates(task: Task) -> tuple[NextTrial, ...]:
    """Return repeats at the place and centre points: as few as would be enough."""
    counts = range(FEWEST, MOST + 1, 2)
    tried = [making.replicates(task.on, count) for count in counts]
    gains = [gain(task.at, one.settings) for one in tried]
    good = next((i for i, one in enumerate(gains) if enough(one)), None)
    holds = holds_already(gains[0])
    i = counts.index(USUAL) if good is None or holds else good
    if not len(tried[i].settings):
        return ()
    return (
        _made(
            task,
            Kind.REPLICATES,
            tried[i],
            reason=f"Runs repeated at {task.where} and in the middle tell scatter and mean "
            f"there. {_how_many(gains, good=good)}",
            settles="how large the scatter is, and where the mean stands where it matters",
        ),
    )


def _how_many(gains: list[Gain | Unavailable], *, good: int | None) -> str:
    last = gains[-1]
    if holds_already(gains[0]):
        return "The point itself holds by now; more runs widen what is assured around it."
    if good is not None:
        n = FEWEST + 2 * good
        return f"{n} are the fewest that would be enough if the scatter stays as it is."
    if isinstance(last, Gain) and not isinstance(last.margin, Unavailable):
        return f"Even {MOST} would not be enough by themselves."
    return "How many are enough cannot be told beforehand."


def corners(task: Task) -> tuple[NextTrial, ...]:
    """Return the corners of a small box, between the levels tried."""
    runs = making.corners(task.on)
    if not len(runs.settings):
        return ()
    return (
        _made(
            task,
            Kind.CORNERS,
            runs,
            reason=f"The corners of a box around {task.where}, half as wide as the ranges, stand "
            "between the levels tried, where a bend that the model cannot draw would show.",
            settles="whether the model form holds where it is needed, and what the corners do",
        ),
    )


def axial(task: Task) -> tuple[NextTrial, ...]:
    """Return axial and centre points, where some factor has nothing between its ends."""
    flat = {name for fit in task.at.fits for name in two_level_factors(fit.settings)}
    model = _with_squares(task)
    missing = _missing_squares(task, model)
    if not flat and not missing:
        return ()
    runs = making.axial(task.on)
    names = ", ".join(sorted(flat) or missing)
    return (
        _made(
            task,
            Kind.AXIAL,
            runs,
            reason=f"{names} cannot be seen to bend: axial runs, one factor at an end and the "
            "others in the middle, tell the square of each.",
            settles="how each factor bends, so that settings between the levels can be used",
            terms=model,
        ),
    )


def fold_over(task: Task) -> tuple[NextTrial, ...]:
    """Return the mirror image that parts an alias."""
    found = folded(task.trial, task.plan, task.at.limiting.terms, seed=task.seed)
    if found is None:
        return ()
    runs = making.Runs(settings=found.runs, point=("mirror",) * len(found.runs))
    return (
        _made(
            task,
            Kind.FOLD_OVER,
            runs,
            reason=f"The mirror image in {found.reversed_words} parts {found.parted}.",
            settles=f"which of {found.parted} it is. Afterwards {found.left}",
        ),
    )


def further(task: Task) -> tuple[NextTrial, ...]:
    """Return runs beyond the edges that are in the way, along the steepest way on."""
    if not task.at.edges:
        return ()
    runs = making.further(task.at, task.on)
    if isinstance(runs, Unavailable):
        return ()
    ranges = _moved(task, runs)
    names = ", ".join(f"{one.factor} to {one.low:g} … {one.high:g} {one.unit}" for one in ranges)
    return (
        NextTrial(
            kind=Kind.FURTHER,
            reason=f"The best of what was tried lies at the end of it: the ranges move ({names}), "
            f"in steps along the steepest way for {task.at.limiting.outcome.name}.",
            settles="whether it goes on getting better there; first ask whether it is possible "
            "and safe",
            runs=runs.settings,
            point=runs.point,
            gain=Unavailable(
                reason="nobody has been there: no model of these runs says what will be found"
            ),
            recommended=False,
            why="",
            ranges=ranges,
        ),
    )


def less_scatter(task: Task) -> tuple[NextTrial, ...]:
    """Return by how much scatter would have to fall, which no run changes."""
    words = scatter_words(task.at)
    none = Settings(factors=task.plan.settings.factors, values=np.zeros((0, 0)))
    return (
        (
            NextTrial(
                kind=Kind.LESS_SCATTER,
                reason=words.reason,
                settles="nothing by itself: find what makes parts differ at one setting (gauge, "
                "lot, operator, fixture), then repeat the runs at the best point",
                runs=none,
                point=(),
                gain=Unavailable(reason="no run is added"),
                recommended=False,
                why="",
            ),
        )
        if words.is_told
        else ()
    )


def _made(
    task: Task,
    kind: Kind,
    runs: Runs,
    *,
    reason: str,
    settles: str,
    terms: Terms | None = None,
) -> NextTrial:
    return NextTrial(
        kind=kind,
        reason=reason + _cost(task, len(runs.settings)),
        settles=settles,
        runs=runs.settings,
        point=runs.point,
        gain=gain(task.at, runs.settings, terms=terms),
        recommended=False,
        why="",
    )


def _cost(task: Task, n_runs: int) -> str:
    """Return what is to be said where the budget does not hold the runs."""
    if task.plan.budget_parts is None:
        return ""
    per_run = task.plan.parts_per_run
    left = task.plan.budget_parts - len(task.plan) * per_run
    if n_runs * per_run <= left:
        return ""
    return (
        f" They take {n_runs * per_run} parts; the budget leaves {max(left, 0)}, so more has to "
        "be granted."
    )


def _with_squares(task: Task) -> Terms:
    """Return the model with the squares and products that axial runs are for."""
    fit = task.at.limiting
    names = {name for term in fit.terms.terms for name in term.factors}
    own = tuple(one for one in fit.settings.factors if one.name in names)
    try:
        return preset("second-order", own)
    except DefinitionError:
        return fit.terms


def _missing_squares(task: Task, model: Terms) -> list[str]:
    fit = task.at.limiting
    moving = {one.name for one in controls(fit.settings.factors) if not isinstance(one, Stepped)}
    told = set(fit.terms.terms)
    return [
        term.powers[0][0]
        for term in model.terms
        if len(term.powers) == 1
        and term.powers[0][1] == 2
        and term.powers[0][0] in moving
        and term not in told
    ]


def _moved(task: Task, runs: Runs) -> tuple[MovedRange, ...]:
    found = []
    for edge in task.at.edges:
        factor = edge.factor
        tried = runs.settings.column(factor.name)
        low, high = min(factor.low, float(tried.min())), max(factor.high, float(tried.max()))
        if (low, high) != (factor.low, factor.high):
            found.append(MovedRange(factor=factor.name, low=low, high=high, unit=factor.unit))
    return tuple(found)


MAKERS: dict[Kind, Callable[[Task], tuple[NextTrial, ...]]] = {
    Kind.REPLICATES: replicates,
    Kind.CORNERS: corners,
    Kind.AXIAL: axial,
    Kind.FOLD_OVER: fold_over,
    Kind.FURTHER: further,
    Kind.LESS_SCATTER: less_scatter,
}
