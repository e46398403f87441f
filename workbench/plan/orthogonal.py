"""Main effects of factors with two, three or more levels in few runs: orthogonal arrays."""

from __future__ import annotations

from math import prod
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Continuous
from workbench.errors import PlanError
from workbench.plan.array_catalogue import columns_for, sizes_for
from workbench.plan.asked import asked_model
from workbench.plan.draft import Copies, Draft, made, new_recipe
from workbench.plan.general import n_levels
from workbench.plan.levels import coded_levels
from workbench.plan.verify import verify_strength_two

if TYPE_CHECKING:
    from workbench.define.factors import Factor
    from workbench.define.terms import Terms
    from workbench.define.trial import Trial
    from workbench.plan.plans import Plan


def orthogonal(
    trial: Trial,
    *,
    seed: int,
    runs: int | None = None,
    terms: Terms | str | None = None,
    replicates: int = 1,
) -> Plan:
    """Return a plan in which every two factors show all pairs of their levels equally often.

    Strength two (Rao 1947, JRSS Supplement 9, 128-139; Hedayat, Sloane and Stufken 1999): main
    effects are clear of one another, not of products. Categories take all levels, stepped
    factors all steps, continuous ones low and high, and the middle too if the model squares
    them. The fewest runs unless `runs` is given; main effects unless `terms` says otherwise.

    Raises
    ------
    PlanError
        If no array that is built here carries these levels in these runs.
    """
    factors = trial.planned_factors
    model = asked_model(trial, terms, custom="first-order")
    levels = tuple(levels_wanted(factor, model.terms) for factor in factors)
    columns = columns_for(levels, runs)
    if columns is None:
        raise _none(levels, runs)
    verify_strength_two(columns.index)
    chosen = zip(factors, levels, columns.index.T, strict=True)
    coded = np.column_stack([coded_levels(f, n)[index] for f, n, index in chosen])
    copies = Copies(replicates=replicates)
    replicate = np.repeat(np.arange(1, replicates + 1), len(coded))
    draft = Draft(
        coded=np.tile(coded, (replicates, 1)),
        point=("factorial",) * len(replicate),
        block=np.ones(len(replicate), dtype=np.int64),
        replicate=replicate,
    )
    recipe = new_recipe(
        "orthogonal array",
        seed=seed,
        options=(("runs", runs), ("terms", model.text or None), *copies.options()),
        notes=(
            (
                f"{len(coded)} of {prod(levels)} combinations, every pair of levels of every two "
                "factors equally often: main effects are clear of one another, but products of "
                "two factors are mixed into them."
            ),
        ),
    )
    return made(trial, draft, model=model, recipe=recipe)


def levels_wanted(factor: Factor, terms: Terms) -> int:
    """Return how many levels a factor takes: all it has, or two (three if it is squared)."""
    if not isinstance(factor, Continuous):
        return n_levels(factor)
    squared = any(dict(one.powers).get(factor.name, 0) > 1 for one in terms.terms)
    return 3 if squared else 2


def _none(levels: tuple[int, ...], runs: int | None) -> PlanError:
    wanted = " × ".join(str(n) for n in levels)
    possible = sizes_for(levels)
    if possible:
        return PlanError(
            f"There is no orthogonal array of {wanted} levels in {runs} runs.",
            why="Every pair of levels must occur equally often.",
            next_step=f"Ask for {' or '.join(map(str, possible))} runs.",
        )
    return PlanError(
        f"There is no orthogonal array of {wanted} levels here.",
        why="Every pair of levels of every two factors must occur equally often.",
        next_step=f"Ask for all {prod(levels)} combinations (wb.plan.full), or drop a level.",
    )
