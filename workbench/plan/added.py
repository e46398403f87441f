"""Runs added to a plan after a look at its results: a last block, the rest untouched."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.settings import Settings
from workbench.errors import PlanError
from workbench.plan.draft import refuse_forbidden
from workbench.plan.order import resets, run_order

if TYPE_CHECKING:
    from workbench.define.trial import Trial
    from workbench.plan.plans import Plan

ADDED = "added runs"  # option of a recipe: what the runs of a later block are for


def with_added_block(
    trial: Trial,
    plan: Plan,
    runs: Settings,
    *,
    point: tuple[str, ...],
    what_for: str,
    seed: int,
) -> Plan:
    """Return the plan with runs (m, k) added as a last block, in random order.

    The earlier runs keep their numbers, settings and order, so results that point at the plan
    can be read with the longer one. `point` (m,) says what each run is for; `what_for` goes into
    the recipe, the settings do not: they came from results, and cannot be made again from it.

    Raises
    ------
    PlanError
        If there is no run to add, the factors are others, or a run is forbidden.
    """
    if len(runs) == 0 or runs.names != plan.settings.names:
        raise PlanError(
            f"{len(runs)} runs over {', '.join(runs.names)} were to be added.",
            why=f"The plan is over {', '.join(plan.settings.names)}, and a block has runs.",
            next_step="Give a value of each of its factors for every run.",
        )
    unchecked = refuse_forbidden(trial, runs)
    slow = [j for j, factor in enumerate(runs.factors) if factor.slow]
    order = run_order(
        np.ones(len(runs), dtype=np.int64),
        resets(runs.values[:, slow], np.ones(len(runs), dtype=np.int64)),
        last_block=None,
        rng=np.random.Generator(np.random.PCG64(seed)),
    )
    n = len(plan)
    note = f"Runs {n + 1} to {n + len(runs)} were added after looking at the results: {what_for}."
    known = [one for one in unchecked if one not in plan.recipe.notes]
    again = f" {plan.n_blocks}" if ADDED in dict(plan.recipe.options) else ""
    recipe = replace(
        plan.recipe,
        options=(
            *plan.recipe.options,
            (f"{ADDED}{again}", what_for),
            (f"added seed{again}", str(seed)),
        ),
        notes=(*plan.recipe.notes, note, *known),
    )
    values = np.vstack([plan.settings.values, runs.values[order.rows]])
    return replace(
        plan,
        settings=Settings(factors=plan.settings.factors, values=values),
        block=np.concatenate([plan.block, np.full(len(runs), plan.block.max() + 1)]),
        setup=np.concatenate([plan.setup, plan.setup.max() + order.setup]),
        point=(*plan.point, *(point[row] for row in order.rows)),
        standard=np.concatenate([plan.standard, n + 1 + order.rows]),
        recipe=recipe,
    )
