"""Centre points: numeric factors at mid-range, spread evenly over the blocks."""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical, Stepped, is_numeric
from workbench.errors import PlanError
from workbench.plan.draft import Draft

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.plan.draft import Copies


def centre_draft(factors: tuple[Factor, ...], copies: Copies) -> Draft:
    """Return the centre points: as many as asked at each combination of category levels.

    They fill the blocks in turn, so that no two blocks differ by more than one.

    Raises
    ------
    PlanError
        If there is no numeric factor whose middle could be set.
    """
    if not any(is_numeric(factor) for factor in factors):
        raise PlanError(
            f"{copies.centre_points} centre points were asked for.",
            why="No factor of the trial has a middle: all are categories.",
            next_step="Ask for replicates to see the scatter between runs.",
        )
    coded = np.repeat(category_corners(factors), copies.centre_points, axis=0)
    n = len(coded)
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
    combinations = len(category_corners(factors))
    categories = [f.name for f in factors if isinstance(f, Categorical)]
    notes = []
    if sum(is_numeric(factor) for factor in factors) > 1:
        notes.append(
            "Centre points show whether there is any bend at all, not which factor bends "
            "(the squares cannot be told apart)."
        )
    if categories:
        notes.append(
            f"A category has no middle: {copies.centre_points} centre points at each of the "
            f"{combinations} combinations of {', '.join(categories)}, "
            f"{copies.centre_points * combinations} in all."
        )
    if (copies.centre_points * combinations) % copies.blocks:
        notes.append("Centre points do not divide evenly over the blocks; some hold one more.")
    return tuple(notes)


def _has_inner_steps(factor: Factor) -> bool:
    return isinstance(factor, Stepped) and len(factor.steps) > 2


def category_corners(factors: tuple[Factor, ...]) -> NDArray[np.float64]:
    """Return every combination of category levels (m, k), numeric factors at their middle (0)."""
    levels = [range(len(f.levels)) if isinstance(f, Categorical) else (0,) for f in factors]
    return np.array(list(product(*levels)), dtype=np.float64)
