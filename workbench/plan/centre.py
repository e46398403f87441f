"""Centre points: numeric factors at mid-range, spread evenly over the blocks."""

from __future__ import annotations

from itertools import product
from math import lcm
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical, Stepped, is_numeric
from workbench.errors import PlanError
from workbench.plan.draft import Draft

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.plan.draft import Copies


SENSE = 4  # centre points that are not too many for any plan


def centre_draft(factors: tuple[Factor, ...], copies: Copies, *, n_others: int) -> Draft:
    """Return the centre points: as many as asked at each combination of category levels.

    They fill the blocks in turn, so that no two blocks differ by more than one. `n_others`
    counts the other runs of the plan.

    Raises
    ------
    PlanError
        If there is no numeric factor whose middle could be set, or more centre points than
        other runs would be made.
    """
    if not any(is_numeric(factor) for factor in factors):
        raise PlanError(
            f"{copies.centre_points} centre points were asked for.",
            why="No factor of the trial has a middle: all are categories.",
            next_step="Ask for replicates to see the scatter between runs.",
        )
    places = _places(factors, copies)
    n = len(places) * copies.centre_points
    refuse_many_centres(n, n_others, places=len(places))
    coded = np.repeat(places, copies.centre_points, axis=0)
    return Draft(
        coded=coded,
        point=("centre",) * n,
        block=np.arange(n, dtype=np.int64) % copies.blocks + 1,
        replicate=np.zeros(n, dtype=np.int64),
    )


def centre_notes(factors: tuple[Factor, ...], copies: Copies) -> tuple[str, ...]:
    """Return what a reader has to know of the centre points of a two-level plan."""
    if not copies.centre_points:
        blind = any(is_numeric(f) and not _has_inner_steps(f) for f in factors)
        bend = "No centre points: whether the outcome bends between low and high cannot be seen."
        return (bend,) if blind else ()
    combinations = len(_places(factors, copies))
    categories = [f.name for f in factors if isinstance(f, Categorical)]
    notes = []
    if sum(is_numeric(factor) for factor in factors) > 1:
        notes.append(
            "Centre points show whether there is any bend at all, not which factor bends "
            "(the squares cannot be told apart)."
        )
    if categories:
        which = "the" if combinations == len(category_corners(factors)) else "a balanced subset,"
        notes.append(
            f"A category has no middle: {copies.centre_points} centre points at each of {which} "
            f"{combinations} combinations of {', '.join(categories)}, "
            f"{copies.centre_points * combinations} in all."
        )
    if copies.centre_at == "subset" and combinations < len(category_corners(factors)):
        notes.append(
            "Each level of each category has equally many centre points, so they show a bend on "
            "average over the levels; a bend that differs from combination to combination can "
            "hide in them."
        )
    if (copies.centre_points * combinations) % copies.blocks:
        notes.append("Centre points do not divide evenly over the blocks; some hold one more.")
    return tuple(notes)


def refuse_many_centres(n_centre: int, n_others: int, *, places: int = 1) -> None:
    """Refuse more centre points than other runs: they would take parts that show no effect.

    Raises
    ------
    PlanError
        If there are more than four and more than other runs.
    """
    if n_centre <= max(n_others, SENSE):
        return
    most = max(n_others, SENSE) // places
    fewer = f"Ask for {most} or fewer" if most else "Leave them out"
    each = f" at each of {places} combinations of levels" if places > 1 else ""
    subset = ', or for them at a balanced subset (centre_at="subset")' if places > 1 else ""
    raise PlanError(
        f"{n_centre} centre points were asked for with {n_others} other runs.",
        why="Centre points show the scatter and whether there is a bend, but no effect; a few "
        "do it.",
        next_step=f"{fewer}{each}{subset}.",
    )


def _places(factors: tuple[Factor, ...], copies: Copies) -> NDArray[np.float64]:
    """Return where centre points stand (m, k): at every combination of levels or a subset."""
    if copies.centre_at == "every":
        return category_corners(factors)
    sizes = [len(f.levels) if isinstance(f, Categorical) else 1 for f in factors]
    # All levels in step: each level of each category equally often, in the fewest runs.
    steps = np.arange(lcm(*sizes))
    return np.column_stack([steps % size for size in sizes]).astype(np.float64)


def _has_inner_steps(factor: Factor) -> bool:
    return isinstance(factor, Stepped) and len(factor.steps) > 2


def category_corners(factors: tuple[Factor, ...]) -> NDArray[np.float64]:
    """Return every combination of category levels (m, k), numeric factors at their middle (0)."""
    levels = [range(len(f.levels)) if isinstance(f, Categorical) else (0,) for f in factors]
    return np.array(list(product(*levels)), dtype=np.float64)
