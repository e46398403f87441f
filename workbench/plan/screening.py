"""Screening at two levels in any multiple of four runs (Plackett and Burman 1946)."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import PlanError
from workbench.numerics.screening_arrays import projectivity, two_level_array
from workbench.plan.asked import asked_model
from workbench.plan.centre import centre_draft, centre_notes
from workbench.plan.draft import Copies, Draft, made, new_recipe
from workbench.plan.levels import coded_signs, refuse_many_levels
from workbench.plan.verify import verify_strength_two

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.define.terms import Terms
    from workbench.define.trial import Trial
    from workbench.plan.plans import Plan

SIZES = tuple(range(12, 101, 4))
FEW = 24  # factors whose sets of four are all looked at; beyond it, sets of three


def screening(
    trial: Trial,
    *,
    seed: int,
    runs: int | None = None,
    terms: Terms | str | None = None,
    replicates: int = 1,
    centre_points: int = 0,
    centre_at: str = "every",
) -> Plan:
    """Return an orthogonal two-level plan in 12, 16, … 100 runs for main effects.

    The fewest runs that hold every factor unless `runs` is given; half of them and their mirror
    image where that holds all factors. Else products of two factors are spread over the main
    effects; the notes say how far. `terms` is the model to carry (else the trial's, else main
    effects). Centre points are as in `full`.

    Raises
    ------
    PlanError
        If there is no such array, a factor has more than two levels, or the model does not fit.
    """
    factors = trial.planned_factors
    refuse_many_levels(factors)
    n_runs = _size(len(factors), runs)
    model = asked_model(trial, terms, custom="first-order")
    copies = Copies(replicates=replicates, centre_points=centre_points, centre_at=centre_at)
    array = two_level_array(n_runs, len(factors))
    verify_strength_two(array)
    draft = _two_level_draft(factors, array, replicates)
    if centre_points:
        draft = draft.and_then(centre_draft(factors, copies, n_others=len(draft.block)))
    recipe = new_recipe(
        "two-level screening",
        seed=seed,
        options=(("runs", runs), ("terms", model.text or None), *copies.options()),
        notes=(*screening_notes(array), *centre_notes(factors, copies)),
    )
    return made(trial, draft, model=model, recipe=recipe)


def _two_level_draft(
    factors: tuple[Factor, ...], array: NDArray[np.int64], replicates: int
) -> Draft:
    replicate = np.repeat(np.arange(1, replicates + 1), len(array))
    return Draft(
        coded=np.tile(coded_signs(factors, array), (replicates, 1)),
        point=("factorial",) * len(replicate),
        block=np.ones(len(replicate), dtype=np.int64),
        replicate=replicate,
    )


def screening_notes(array: NDArray[np.int64]) -> tuple[str, ...]:
    """Return what the array can show: projectivity, and how products of two lean on effects."""
    most = 4 if array.shape[1] <= FEW else 3
    p = projectivity(array, most=most)
    largest = largest_overlap(array)
    at_least = " or more" if p == most < array.shape[1] else ""
    notes = [
        (
            f"Projectivity {p}{at_least}: whichever {p} factors turn out to matter, the runs "
            "hold every combination of them."
        )
    ]
    if largest > 1 - 1e-9:
        notes.append(
            "Some product of two factors cannot be told from a main effect at all; a fraction of "
            "resolution IV keeps them apart."
        )
    elif largest > 1e-9:
        notes.append(
            "Products of two factors are spread over the main effects: each adds up to "
            f"{largest:.2f} of its size to those of other factors."
        )
    else:
        notes.append("Main effects are clear of products of two factors.")
    return tuple(notes)


def largest_overlap(array: NDArray[np.int64]) -> float:
    """Return the largest size of a product of two factors in the effect of a third one."""
    n, k = array.shape
    worst = 0.0
    for i, j in combinations(range(k), 2):
        others = np.abs(array.T @ (array[:, i] * array[:, j])) / n
        others[[i, j]] = 0.0
        worst = max(worst, float(others.max(initial=0.0)))
    return worst


def _size(n_factors: int, runs: int | None) -> int:
    fits = [n for n in SIZES if n > n_factors]
    if not fits:
        raise PlanError(
            f"There are {n_factors} factors to screen.",
            why="Two-level arrays are built up to 100 runs, for 99 factors.",
            next_step="Hold the factors that matter least.",
        )
    if runs is None:
        return fits[0]
    if runs not in fits:
        nearest = min(fits, key=lambda n: abs(n - runs))
        raise PlanError(
            f"There is no two-level array of {n_factors} factors in {runs} runs.",
            why="Balanced two-level columns that do not mix exist for multiples of four, from 12 "
            "to 100 here, and for fewer factors than runs.",
            next_step=f"Ask for {nearest} runs.",
        )
    return runs
