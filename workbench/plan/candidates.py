"""Candidate plans side by side: what each costs, what each can tell, and which to take."""

from __future__ import annotations

from dataclasses import dataclass
from math import floor
from typing import TYPE_CHECKING

from workbench.define.terms import PRESETS
from workbench.errors import PlanError
from workbench.plan.candidate_choice import undominated, with_recommendation
from workbench.plan.candidate_facts import (
    aims_of,
    cost_of,
    days_of,
    detectable_in_sd,
    detected,
    gives_up,
    leaning_of,
    parts_of,
    resets_of,
)
from workbench.plan.candidate_nouns import REGION_SHARE, Candidate, Comparison
from workbench.plan.candidate_wishes import repeated, wishes
from workbench.plan.draft import refuse_mixture
from workbench.plan.mixing import mixing
from workbench.plan.precision import precision
from workbench.plan.robustness import degrees_of_freedom

if TYPE_CHECKING:
    from collections.abc import Iterator

    from workbench.define.trial import Trial
    from workbench.plan.candidate_nouns import Aim
    from workbench.plan.candidate_wishes import Wish
    from workbench.plan.plans import Plan

MOST_RUNS = 128  # without a stated budget, trials made by hand end here
ALPHA = 0.05  # usual level of a two-sided test
CHANCE = 0.8  # usual power at which a difference is called detectable


class NothingFitsError(PlanError):
    """No plan that is looked at fits the budget."""


def candidates(
    trial: Trial,
    *,
    seed: int,
    aims: tuple[Aim, ...] | None = None,
    alpha: float = ALPHA,
    chance: float = CHANCE,
    runs_at_most: int | None = None,
) -> Comparison:
    """Return the classical plans that fit the trial's budget, one of them recommended.

    Each plan carries the model asked for (second order if nobody asks) or the richest preset
    that it can. `aims` say which scatter is assumed; by default those of every measured outcome
    that states expected_sd. Which plans there are, and their names, depends on the trial, the
    seed and `runs_at_most` alone.

    Raises
    ------
    NothingFitsError
        If no plan fits the budget.
    PlanError
        If a number is out of its range, or the trial is a mixture.
    """
    refuse_mixture(trial)
    asked = trial.model or "second-order"
    chosen = aims_of(trial) if aims is None else aims
    found: list[Candidate] = []
    left_out: list[tuple[str, str]] = []
    wanted = _Wanted(model=asked, limit=run_limit(trial, runs_at_most), seed=seed)
    for one in _looked_at(trial, wanted):
        if isinstance(one, _Made):
            found.append(
                _candidate(
                    trial, one, _Judge(asked=asked, aims=chosen, alpha=alpha, chance=chance)
                )
            )
        else:
            left_out.append(one)
    if not found:
        raise _nothing_fits(left_out)
    kept, dominated = undominated(tuple(found))
    return Comparison(
        candidates=with_recommendation(kept, asked),
        left_out=(*left_out, *dominated),
        asked=asked,
        is_assumed=not trial.model,
        alpha=alpha,
        chance=chance,
    )


def candidate_named(
    trial: Trial, name: str, *, seed: int, runs_at_most: int | None = None
) -> Plan:
    """Return the plan of a name that `candidates` gives for the same trial and seed.

    Raises
    ------
    PlanError
        If no plan of that name fits; the message lists those that do.
    """
    asked = trial.model or "second-order"
    known, reason = [], ""
    wanted = _Wanted(model=asked, limit=run_limit(trial, runs_at_most), seed=seed)
    for one in _looked_at(trial, wanted):
        if isinstance(one, _Made):
            if one.name == name:
                return one.plan
            known.append(one.name)
        elif one[0] == name:
            reason = one[1]
    raise PlanError(
        f"There is no candidate {name!r}" + (f": {reason}" if reason else "."),
        why="Names are those that `workbench candidates` prints for this trial, seed and limit.",
        next_step=f"Take one of: {', '.join(known) or 'none fits the budget'}.",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Wanted:
    """The model that plans should carry, in how many runs at most, from which seed."""

    model: str
    limit: int
    seed: int


@dataclass(frozen=True, slots=True, kw_only=True)
class _Judge:
    """What candidates are held against: the model asked for, and what has to be found."""

    asked: str
    aims: tuple[Aim, ...]
    alpha: float
    chance: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Made:
    """A plan that fits, the model it carries and the wish that it comes from."""

    name: str
    plan: Plan
    carries: str


def run_limit(trial: Trial, runs_at_most: int | None) -> int:
    """Return how many runs the budget allows: of parts, of days, and as asked.

    Raises
    ------
    PlanError
        If fewer than one run is asked for.
    """
    if runs_at_most is not None and runs_at_most < 1:
        raise PlanError(
            f"At most {runs_at_most} runs were asked for.",
            why="A plan has at least one run.",
            next_step="Ask for one or more.",
            place="--runs-at-most",
        )
    budget = trial.budget
    limits = [] if runs_at_most is None else [runs_at_most]
    if budget.parts is not None:
        limits.append(budget.parts // budget.parts_per_run)
    if budget.days is not None and budget.runs_per_day is not None:
        limits.append(floor(budget.days * budget.runs_per_day + 1e-9))
    return min(limits, default=MOST_RUNS)


def _looked_at(trial: Trial, wanted: _Wanted) -> Iterator[_Made | tuple[str, str]]:
    """Yield every plan that fits, and for those that do not their names and the reason."""
    names: set[str] = set()
    for wish in wishes(trial, limit=wanted.limit, seed=wanted.seed):
        one = _tried(trial, wish, wanted)
        yield from _once(one, names)
        if isinstance(one, _Made):
            more = repeated(wish, one.plan, limit=wanted.limit, seed=wanted.seed)
            if more is not None and wanted.limit < MOST_RUNS:
                yield from _once(_tried(trial, more, wanted), names)


def _once(one: _Made | tuple[str, str], names: set[str]) -> Iterator[_Made | tuple[str, str]]:
    name = one.name if isinstance(one, _Made) else one[0]
    if name not in names:
        names.add(name)
        yield one


def _tried(trial: Trial, wish: Wish, wanted: _Wanted) -> _Made | tuple[str, str]:
    limit = wanted.limit
    if wish.runs is not None and wish.runs > limit:
        return wish.name, f"It takes {wish.runs} runs; the budget allows {limit}."
    try:
        plan, carries = _richest(wish, wanted.model)
    except PlanError as refused:
        return wish.name, f"{refused.wrong} {refused.why}"
    if len(plan) > limit:
        return wish.named(plan), f"It takes {len(plan)} runs; the budget allows {limit}."
    allowed, resets = trial.budget.days, resets_of(plan)
    days = days_of(trial, plan)
    if allowed is not None and isinstance(days, float) and days > allowed + 1e-9:
        return wish.named(plan), f"Its {resets} resets take {days:.3g} days, not {allowed:g}."
    return _Made(name=wish.named(plan), plan=plan, carries=carries)


def _richest(wish: Wish, asked: str) -> tuple[Plan, str]:
    """Return the plan with the model asked for if runs are left for error, else the richest.

    Where even main effects leave no run for error, the plan of the fewest terms is returned.
    """
    tries = [asked, *(one for one in reversed(PRESETS) if one != asked)]
    bare: tuple[Plan, str] | None = None
    first: PlanError | None = None
    for terms in tries:
        try:
            plan = wish.make(terms=terms)
        except PlanError as refused:
            first = first or refused
            continue
        if degrees_of_freedom(plan).error > 0:
            return plan, terms
        bare = plan, terms
    if bare is None:
        raise first or AssertionError("no model was tried")
    return bare


def _candidate(trial: Trial, one: _Made, judge: _Judge) -> Candidate:
    plan = one.plan
    levels = {"alpha": judge.alpha, "chance": judge.chance}
    mixed, leaning = mixing(plan), leaning_of(plan)
    error_df = degrees_of_freedom(plan).error
    return Candidate(
        name=one.name,
        plan=plan,
        parts=parts_of(plan),
        resets=resets_of(plan),
        days=days_of(trial, plan),
        cost=cost_of(trial, plan),
        carries=one.carries,
        error_df=error_df,
        detects=detected(plan, judge.aims, **levels),
        mixing=mixed,
        leaning=leaning,
        detectable_in_sd=detectable_in_sd(plan, **levels),
        standard_error=precision(plan, seed=plan.recipe.seed).at_share(REGION_SHARE),
        gives_up=gives_up(
            plan, mixed, leaning, carries=one.carries, asked=judge.asked, error_df=error_df
        ),
    )


def _nothing_fits(left_out: list[tuple[str, str]]) -> NothingFitsError:
    said = " ".join(f"{name}: {why}" for name, why in left_out[:4])
    return NothingFitsError(
        "No plan fits the budget of the trial.",
        why=f"Looked at: {said}",
        next_step="State a larger budget, vary fewer factors, or hold one at a level.",
    )
