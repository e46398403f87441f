"""A draft: the runs of a plan before they are ordered, and what makes a plan of it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from importlib.metadata import version
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.constraints import allowed
from workbench.define.factors import Categorical, Stepped, components
from workbench.define.settings import Settings
from workbench.errors import PlanError
from workbench.plan.order import resets, run_order
from workbench.plan.plans import Plan, Recipe
from workbench.plan.verify import carried

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.factors import Factor, Numeric
    from workbench.define.trial import Trial
    from workbench.plan.asked import AskedModel

ROUNDING = 1e-9  # of half a range
DISTRIBUTION = "trial-workbench"  # its version goes into every recipe
DIGITS = 12  # of a setting: more than anyone sets, fewer than arithmetic leaves behind
CENTRE_AT = ("every", "subset")
MOST_RUNS = 1024  # an array beyond this is a slip, not a trial of hand-made parts


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Draft:
    """Runs in standard order: coded settings (n, k) with categories as level indices.

    `replicate` (n,) counts copies from 1 (0 for centre points), `last_block` closes the order.
    """

    coded: NDArray[np.float64]
    point: tuple[str, ...]
    block: NDArray[np.int64]
    replicate: NDArray[np.int64]
    last_block: int | None = None

    def and_then(self, other: Draft) -> Draft:
        """Return the runs of both, this one's first."""
        return Draft(
            coded=np.vstack([self.coded, other.coded]),
            point=(*self.point, *other.point),
            block=np.concatenate([self.block, other.block]),
            replicate=np.concatenate([self.replicate, other.replicate]),
            last_block=self.last_block if other.last_block is None else other.last_block,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Copies:
    """How often an array is run and in what: replicates, centre points, blocks.

    `centre_at` says where categories stand at centre points: at "every" combination of their
    levels or at a balanced "subset" of them.
    """

    replicates: int = 1
    centre_points: int = 0
    blocks: int = 1
    centre_at: str = "every"

    def __post_init__(self) -> None:
        counts = (("replicates", self.replicates, 1), ("centre points", self.centre_points, 0))
        for name, count, least in (*counts, ("blocks", self.blocks, 1)):
            if count < least:
                raise PlanError(
                    f"{count} {name} were asked for.",
                    why="A plan is made of whole runs.",
                    next_step=f"Write {least} or more.",
                )
        if self.centre_at not in CENTRE_AT:
            raise PlanError(
                f"Centre points were asked for at {self.centre_at!r}.",
                why="Categories have no middle; they stand at combinations of their levels.",
                next_step="Write one of: " + ", ".join(map(repr, CENTRE_AT)) + ".",
            )

    def options(self) -> tuple[tuple[str, object], ...]:
        """Return them as options of a recipe."""
        return (
            ("replicates", self.replicates),
            ("centre points", self.centre_points),
            ("blocks", self.blocks),
            ("centre at", None if self.centre_at == "every" else self.centre_at),
        )


def made(trial: Trial, draft: Draft, *, model: AskedModel, recipe: Recipe) -> Plan:
    """Return the plan of a draft: settings checked, model checked, runs put in random order.

    Raises
    ------
    PlanError
        If a setting does not exist, a run is forbidden, the runs cannot carry the model, or the
        trial is a mixture.
    """
    refuse_mixture(trial)
    settings = settable(trial.planned_factors, draft.coded)
    notes = (*recipe.notes, *model.notes, *refuse_forbidden(trial, settings))
    error_df = carried(model.terms, settings, draft.block)
    _refuse_seed(recipe.seed)
    rng = np.random.Generator(np.random.PCG64(recipe.seed))
    slow = [j for j, factor in enumerate(settings.factors) if factor.slow]
    order = run_order(
        draft.block,
        resets(settings.values[:, slow], draft.replicate),
        last_block=draft.last_block,
        rng=rng,
    )
    plan = Plan(
        settings=settings.rows(order.rows),
        block=order.block,
        setup=order.setup,
        point=tuple(draft.point[row] for row in order.rows),
        standard=order.rows.astype(np.int64) + 1,
        parts_per_run=trial.budget.parts_per_run,
        terms=model.terms,
        recipe=recipe,
        budget_parts=trial.budget.parts,
    )
    whole = (*notes, *cost_notes(plan, error_df=error_df))
    return replace(plan, recipe=replace(recipe, notes=whole))


def new_recipe(
    kind: str, *, seed: int, options: tuple[tuple[str, object], ...], notes: tuple[str, ...]
) -> Recipe:
    """Return a recipe of this version, options that nobody set left out."""
    return Recipe(
        kind=kind,
        options=tuple((name, str(value)) for name, value in options if value is not None),
        seed=seed,
        version=version(DISTRIBUTION),
        notes=notes,
    )


def refuse_mixture(trial: Trial) -> None:
    """Refuse to plan shares of a mixture.

    Raises
    ------
    PlanError
        If a factor is a component.
    """
    shares = components(trial.planned_factors)
    if shares:
        raise PlanError(
            f"{', '.join(one.name for one in shares)} are shares of a mixture.",
            why="They add up, so low and high of one cannot be set freely of the others; plans "
            "for mixtures are not made here.",
            next_step="Plan the blends by hand (pure blends, halves, the centre, some twice), and "
            "take the table in: workbench adopt TABLE DIR.",
        )


def refuse_size(n_runs: int, next_step: str) -> None:
    """Refuse arrays that nobody will run.

    Raises
    ------
    PlanError
        If there are more than 1,024 runs.
    """
    if n_runs > MOST_RUNS:
        raise PlanError(
            f"That makes {n_runs:,} runs.",
            why=f"Plans of more than {MOST_RUNS:,} runs are not made here.",
            next_step=next_step,
        )


def _refuse_seed(seed: int) -> None:
    if seed < 0:
        raise PlanError(
            f"The seed is {seed}.",
            why="Random streams start from a whole number, 0 or above.",
            next_step="Give another seed.",
        )


def settable(factors: tuple[Factor, ...], coded: NDArray[np.float64]) -> Settings:
    """Return coded runs (n, k) as settings: ends as the user wrote them, steps exact.

    Raises
    ------
    PlanError
        If a stepped factor lacks a step.
    """
    values = np.array(coded)
    for j, factor in enumerate(factors):
        if not isinstance(factor, Categorical):
            natural = _as_written(factor, factor.natural(coded[:, j]))
            # The ends are set as the user wrote them, not as rounding leaves them.
            natural = np.where(np.abs(coded[:, j] + 1) < ROUNDING, factor.low, natural)
            values[:, j] = np.where(np.abs(coded[:, j] - 1) < ROUNDING, factor.high, natural)
        if isinstance(factor, Stepped):
            values[:, j] = _nearest_steps(factor, values[:, j])
    answer = Settings(factors=factors, values=values)
    _refuse_missing_steps(answer)
    return answer


def _as_written(factor: Numeric, natural: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return settings without the last digits of arithmetic: 1.2, not 1.2000000000000002."""
    size = max(abs(factor.low), abs(factor.high))
    return np.round(natural, DIGITS - int(np.floor(np.log10(size))))


def _nearest_steps(factor: Stepped, values: NDArray[np.float64]) -> NDArray[np.float64]:
    steps = np.array(factor.steps)
    nearest = steps[np.argmin(np.abs(values[:, None] - steps), axis=1)]
    close = np.abs(values - nearest) <= ROUNDING * (factor.high - factor.low)
    return np.where(close, nearest, values)


def _refuse_missing_steps(settings: Settings) -> None:
    for j, factor in enumerate(settings.factors):
        if not isinstance(factor, Stepped):
            continue
        missing = sorted(set(settings.values[:, j].tolist()) - set(factor.steps))
        if missing:
            raise PlanError(
                f"The plan needs {factor.name!r} at {', '.join(f'{v:g}' for v in missing)} "
                f"{factor.unit}".rstrip()
                + ", which is none of its steps.",
                why=f"It can only be set to {', '.join(f'{v:g}' for v in factor.steps)}.",
                next_step="Add that step to the trial if the machine has it, leave out centre "
                "and axial points, or choose steps with one at mid-range.",
            )


def refuse_forbidden(trial: Trial, settings: Settings) -> tuple[str, ...]:
    """Refuse runs that a constraint forbids; return notes on constraints not checked.

    Raises
    ------
    PlanError
        If a run is forbidden.
    """
    unchecked = []
    for constraint in trial.constraints:
        if not set(constraint.factors) <= set(settings.names):
            unchecked.append(constraint.reason or ", ".join(constraint.factors))
            continue
        forbidden = ~allowed((constraint,), settings)
        if forbidden.any():
            raise _forbidden(settings.rows(forbidden), constraint.reason)
    if not unchecked:
        return ()
    return (f"Not checked, since it holds a factor that is not planned: {'; '.join(unchecked)}.",)


def _forbidden(runs: Settings, reason: str) -> PlanError:
    distinct = Settings(factors=runs.factors, values=np.unique(runs.values, axis=0))
    shown = [
        ", ".join(
            f"{name} {value:g}" if isinstance(value, float) else f"{name} {value}"
            for name, value in row.items()
        )
        for row in distinct.as_dicts()[:4]
    ]
    more = f"; and {len(distinct) - 4} more" if len(distinct) > 4 else ""
    return PlanError(
        f"The plan would set {'; '.join(shown)}{more}.",
        why=f"The trial forbids it: {reason or 'no reason is given'}.",
        next_step="Shrink the range of a factor in it until every run is allowed; plans that "
        "bend round a forbidden corner are not made yet.",
    )


def cost_notes(plan: Plan, *, error_df: int) -> tuple[str, ...]:
    """Return what the runs of a plan cost and lack: error df, parts, resets."""
    notes = []
    if error_df == 0:
        notes.append(
            "No run is left over for error: effects can be ranked, but have no interval. "
            "Add replicates or centre points."
        )
    parts = len(plan) * plan.parts_per_run
    if plan.budget_parts is not None and parts > plan.budget_parts:
        notes.append(f"It needs {parts} parts; the budget states {plan.budget_parts}.")
    if any(factor.slow for factor in plan.settings.factors):
        notes.append(
            f"{plan.setup[-1]} resets of slow settings: they vary less often than the others, "
            "so their effects are judged against the scatter between resets."
        )
    return tuple(notes)
