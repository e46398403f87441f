"""Candidate plans side by side: what each costs, what each can tell, and which to take."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

from workbench.define.factors import Categorical
from workbench.define.outcomes import Measured
from workbench.define.terms import PRESETS
from workbench.errors import PlanError, Unavailable
from workbench.plan.box_behnken import box_behnken
from workbench.plan.composite import composite
from workbench.plan.definitive import definitive
from workbench.plan.fraction_table import fractions_of
from workbench.plan.mixing import mixing
from workbench.plan.orthogonal import orthogonal
from workbench.plan.power import Detectable, detectable
from workbench.plan.precision import precision
from workbench.plan.screening import screening
from workbench.plan.two_level import fraction, full

if TYPE_CHECKING:
    from workbench.define.trial import Trial
    from workbench.plan.mixing import Mixing
    from workbench.plan.plans import Plan

CENTRE = 3  # centre points of a candidate: two degrees of freedom for pure error, and a bend seen
REGION_SHARE = 0.9  # of the region in which the standard error stated is not exceeded
MOST_RUNS = 128  # without a stated budget, hand-made trials end here
Make = Callable[[str | None], "Plan"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Scatter:
    """Scatter assumed when planning: of runs, of resets if known; ratios on a log scale."""

    sd: float
    setup_sd: float | None = None
    as_ratio: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A plan that fits the budget, with its price and what it gives up.

    `detectable` is Unavailable where no scatter is stated; `mixing` says what cannot
    be told apart; `standard_error` is that of the mean in units of the sd, not
    exceeded in 90 % of the region. `carries` names the model it can tell.
    """

    name: str
    plan: Plan
    parts: int
    resets: int
    days: float | Unavailable
    cost: float | Unavailable
    carries: str
    detectable: tuple[Detectable, ...] | Unavailable
    mixing: Mixing
    standard_error: float
    gives_up: str
    recommended: bool = False
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Candidates, cheapest first, and the plans that were looked at and left out, with reasons."""

    candidates: tuple[Candidate, ...]
    left_out: tuple[tuple[str, str], ...]

    @property
    def recommended(self) -> Candidate:
        """The candidate that is recommended."""
        return next(one for one in self.candidates if one.recommended)


def candidates(
    trial: Trial,
    *,
    seed: int,
    scatter: Scatter | None = None,
    alpha: float = 0.05,
    chance: float = 0.8,
) -> Comparison:
    """Return the classical plans that fit the trial's budget, one of them recommended.

    `scatter` is the run-to-run sd assumed; else that of the first measured outcome that states
    expected_sd. Each plan carries the model asked for, or the richest preset that it can.

    Raises
    ------
    PlanError
        If no plan fits the budget; the message names the cheapest.
    """
    assumed = scatter or _expected(trial)
    found: list[Candidate] = []
    left_out: list[tuple[str, str]] = []
    for name, make in _wishes(trial, seed):
        try:
            plan, carries = _richest(trial, make)
            _within_budget(trial, plan)
        except PlanError as problem:
            left_out.append((name, problem.wrong))
            continue
        found.append(_candidate(trial, (name, carries), plan, (assumed, alpha, chance)))
    if not found:
        raise _nothing_fits(left_out)
    distinct = _distinct(found)
    return Comparison(
        candidates=_with_recommendation(trial, distinct, assumed), left_out=tuple(left_out)
    )


def _wishes(trial: Trial, seed: int) -> Iterator[tuple[str, Make]]:
    factors = trial.planned_factors
    numeric = [f for f in factors if not isinstance(f, Categorical)]
    k, centre = len(factors), CENTRE if numeric else 0
    two_level = all(not isinstance(f, Categorical) or len(f.levels) == 2 for f in factors)
    yield "full", partial(_full, trial, seed, centre)
    yield "full-twice", partial(_full_twice, trial, seed)
    if two_level:
        for row in fractions_of(k):
            yield f"fraction-{row.runs}", partial(_fraction, trial, (seed, centre, row.runs))
        for runs in (12, 20, 24):
            if k < runs:
                yield f"screening-{runs}", partial(_screening, trial, (seed, centre, runs))
        for pairs in (0, 2):
            yield f"definitive-{pairs}-extra", partial(_definitive, trial, seed, pairs)
    if numeric:
        yield "composite-face", partial(_composite, trial, seed, "face")
        yield "composite-rotatable", partial(_composite, trial, seed, "rotatable")
    yield "box-behnken", partial(_box_behnken, trial, seed)
    yield "orthogonal-array", partial(_orthogonal, trial, seed)


def _full(trial: Trial, seed: int, centre: int, terms: str | None) -> Plan:
    return full(trial, seed=seed, centre_points=centre, terms=terms)


def _full_twice(trial: Trial, seed: int, terms: str | None) -> Plan:
    return full(trial, seed=seed, replicates=2, terms=terms)


def _fraction(trial: Trial, wish: tuple[int, int, int], terms: str | None) -> Plan:
    seed, centre, runs = wish
    return fraction(trial, seed=seed, runs=runs, centre_points=centre, terms=terms)


def _screening(trial: Trial, wish: tuple[int, int, int], terms: str | None) -> Plan:
    seed, centre, runs = wish
    return screening(trial, seed=seed, runs=runs, centre_points=centre, terms=terms)


def _definitive(trial: Trial, seed: int, pairs: int, terms: str | None) -> Plan:
    return definitive(trial, seed=seed, extra_pairs=pairs, terms=terms)


def _composite(trial: Trial, seed: int, axial: str, terms: str | None) -> Plan:
    return composite(trial, seed=seed, axial=axial, terms=terms)


def _box_behnken(trial: Trial, seed: int, terms: str | None) -> Plan:
    return box_behnken(trial, seed=seed, terms=terms)


def _orthogonal(trial: Trial, seed: int, terms: str | None) -> Plan:
    return orthogonal(trial, seed=seed, terms=terms)


def _richest(trial: Trial, make: Make) -> tuple[Plan, str]:
    """Return the plan with the richest model it carries: as asked, else the presets downwards."""
    asked = trial.model or "second-order"
    tries = [asked, *(one for one in reversed(PRESETS) if one != asked)]
    problem: PlanError | None = None
    for terms in tries:
        try:
            return make(terms), terms
        except PlanError as refused:
            problem = problem or refused
    assert problem is not None  # noqa: S101 -- the loop ran at least once
    raise problem


def _within_budget(trial: Trial, plan: Plan) -> None:
    parts = len(plan) * plan.parts_per_run
    limit = trial.budget.parts
    if limit is not None and parts > limit:
        raise PlanError(
            f"{len(plan)} runs need {parts} parts; the budget states {limit}.",
            why="A plan beyond the budget is not run.",
            next_step="State a larger budget, or vary fewer factors.",
        )
    if limit is None and len(plan) > MOST_RUNS:
        raise PlanError(
            f"{len(plan)} runs.",
            why=f"Without a budget, plans end at {MOST_RUNS} runs.",
            next_step="State the budget of the trial.",
        )
    days = _days(trial, plan)
    if isinstance(days, float) and trial.budget.days is not None and days > trial.budget.days:
        raise PlanError(
            f"{len(plan)} runs take {days:.2g} days; the budget states {trial.budget.days:g}.",
            why="A plan beyond the budget is not run.",
            next_step="State more days, or vary fewer factors.",
        )


def _candidate(
    trial: Trial, names: tuple[str, str], plan: Plan, aims: tuple[Scatter | None, float, float]
) -> Candidate:
    name, carries = names
    mixed = mixing(plan)
    return Candidate(
        name=name,
        plan=plan,
        parts=len(plan) * plan.parts_per_run,
        resets=int(plan.setup.max()) if _has_slow(trial) else 0,
        days=_days(trial, plan),
        cost=_cost(trial, plan),
        carries=carries,
        detectable=_detectable(plan, aims),
        mixing=mixed,
        standard_error=precision(plan, seed=plan.recipe.seed).at_share(REGION_SHARE),
        gives_up=_gives_up(plan, mixed, carries),
    )


def _detectable(
    plan: Plan, aims: tuple[Scatter | None, float, float]
) -> tuple[Detectable, ...] | Unavailable:
    scatter, alpha, chance = aims
    if scatter is None:
        return Unavailable(
            reason="No scatter is stated: write expected_sd for an outcome, or give --sd."
        )
    return detectable(
        plan,
        sd=scatter.sd,
        alpha=alpha,
        chance=chance,
        setup_sd=scatter.setup_sd,
        as_ratio=scatter.as_ratio,
    )


def _expected(trial: Trial) -> Scatter | None:
    for outcome in trial.outcomes:
        if isinstance(outcome, Measured) and outcome.expected_sd is not None:
            return Scatter(sd=outcome.expected_sd, as_ratio=outcome.scale == "log")
    return None


def _has_slow(trial: Trial) -> bool:
    return any(factor.slow for factor in trial.planned_factors)


def _days(trial: Trial, plan: Plan) -> float | Unavailable:
    budget = trial.budget
    needs = [
        count / rate
        for count, rate in (
            (len(plan), budget.runs_per_day),
            (int(plan.setup.max()) if _has_slow(trial) else 0, budget.resets_per_day),
        )
        if rate is not None
    ]
    if not needs:
        return Unavailable(reason="State runs_per_day in the budget to see days.")
    return float(max(needs))


def _cost(trial: Trial, plan: Plan) -> float | Unavailable:
    budget = trial.budget
    if budget.cost_per_part is None and budget.cost_per_reset is None:
        return Unavailable(reason="State cost_per_part in the budget to see cost.")
    resets = int(plan.setup.max()) if _has_slow(trial) else 0
    parts = len(plan) * plan.parts_per_run
    return parts * (budget.cost_per_part or 0.0) + resets * (budget.cost_per_reset or 0.0)


def _gives_up(plan: Plan, mixed: Mixing, carries: str) -> str:
    """Return in one sentence what a taker of the plan goes without."""
    share = mixed.largest_on_main_effects()
    if share >= 1:
        return "Main effects cannot be told from products or squares: it finds suspects only."
    if share > 0:
        return f"Products lean on main effects (up to {share:.2f}): few may be active at once."
    if mixed.lines:
        return f"{len(mixed.lines)} groups of products or squares are one number each."
    if carries == "first-order":
        return "Products and squares lean on one another: only a few of them can be named."
    if carries == "interactions":
        return "Bends show only as one joint number, so there is no window between the levels."
    if plan.recipe.kind == "Box–Behnken":
        return "No run stands at a corner: there the window rests on the model."
    return "Nothing of a second-order model; it costs more runs than the others."


def _distinct(found: list[Candidate]) -> tuple[Candidate, ...]:
    """Return the candidates, cheapest first, dropping equals in runs and in what they mix."""
    kept: dict[tuple[int, str, tuple[str, ...], float], Candidate] = {}
    for one in found:
        key = (len(one.plan), one.carries, one.mixing.lines, round(one.standard_error, 6))
        kept.setdefault(key, one)
    return tuple(sorted(kept.values(), key=lambda one: (len(one.plan), one.name)))


def _with_recommendation(
    trial: Trial, found: tuple[Candidate, ...], scatter: Scatter | None
) -> tuple[Candidate, ...]:
    best = min(found, key=lambda one: _rank(trial, one, scatter))
    why = _reason(trial, best, scatter)
    return tuple(
        replace(one, recommended=True, why=why) if one is best else one for one in found
    )


def _rank(trial: Trial, one: Candidate, scatter: Scatter | None) -> tuple[float, ...]:
    """Return a key, smallest first: model asked for, clear main effects, finds it, cost."""
    asked = trial.model or "second-order"
    return (
        0 if one.carries == asked else 1,
        0 if one.mixing.main_effects_are_clear else 1,
        0 if _finds(trial, one, scatter) in (True, None) else 1,
        -PRESETS.index(one.carries) if one.carries in PRESETS else 0,
        len(one.plan),
        one.standard_error,
    )


def _finds(trial: Trial, one: Candidate, scatter: Scatter | None) -> bool | None:
    """Return whether every main effect worth finding is found at the chance asked."""
    worth = _worth(trial, scatter)
    if isinstance(one.detectable, Unavailable) or worth is None:
        return None
    sizes = [d.difference for d in one.detectable if d.term.order == 1]
    return all(isinstance(size, float) and size <= worth for size in sizes)


def _worth(trial: Trial, scatter: Scatter | None) -> float | None:
    for outcome in trial.outcomes:
        if isinstance(outcome, Measured) and outcome.expected_sd is not None:
            same = scatter is not None and scatter.as_ratio == (outcome.scale == "log")
            return outcome.worth_finding if same else None
    return None


def _reason(trial: Trial, best: Candidate, scatter: Scatter | None) -> str:
    asked = trial.model or "second-order"
    first = (
        f"It is the smallest that carries the {asked} model"
        if best.carries == asked
        else f"No plan within the budget carries the {asked} model; this one tells most"
    )
    finds = {
        True: ", and finds every main effect worth finding",
        False: ", but would miss a main effect of the size worth finding",
        None: "",
    }[_finds(trial, best, scatter)]
    return f"{first}{finds}. {best.gives_up}"


def _nothing_fits(left_out: list[tuple[str, str]]) -> PlanError:
    said = "; ".join(f"{name}: {why}" for name, why in left_out[:4])
    return PlanError(
        "No plan fits the budget of the trial.",
        why=f"Looked at: {said}.",
        next_step="State a larger budget, vary fewer factors, or hold one at a level.",
    )
