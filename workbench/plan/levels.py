"""Levels that a factor takes in an array, and what an array cannot take."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical, Stepped
from workbench.errors import PlanError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.factors import Factor


def refuse_many_levels(factors: tuple[Factor, ...]) -> None:
    """Refuse a category of more than two levels in a two-level plan.

    Raises
    ------
    PlanError
        If there is one.
    """
    for factor in factors:
        if isinstance(factor, Categorical) and len(factor.levels) > 2:
            raise PlanError(
                f"{factor.name!r} has {len(factor.levels)} levels.",
                why="A two-level plan holds two of them, and which two is not for it to say.",
                next_step="Ask for an orthogonal array of mixed levels (wb.plan.orthogonal) or "
                "the full factorial (wb.plan.full), or keep two levels.",
            )


def coded_signs(factors: tuple[Factor, ...], array: NDArray[np.number]) -> NDArray[np.float64]:
    """Return −1 and +1 (n, k) as coded settings: categories take their first and second level."""
    coded = np.array(array, dtype=np.float64)
    for j, factor in enumerate(factors):
        if isinstance(factor, Categorical):
            coded[:, j] = (coded[:, j] + 1) / 2
    return coded


def coded_levels(factor: Factor, n_levels: int) -> NDArray[np.float64]:
    """Return the coded settings (n_levels,) of a factor: steps, even spacing, or level indices."""
    if isinstance(factor, Categorical):
        return np.arange(n_levels, dtype=np.float64)
    if isinstance(factor, Stepped) and n_levels == len(factor.steps):
        return factor.coded(np.array(factor.steps))
    return np.linspace(-1.0, 1.0, n_levels)
