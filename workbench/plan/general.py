"""The full factorial of factors with two or more levels each."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical, Stepped
from workbench.errors import PlanError
from workbench.plan.draft import Draft
from workbench.plan.verify import verify_product

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.plan.draft import Copies


def n_levels(factor: Factor) -> int:
    """Return the number of levels in a full factorial: all steps, all levels, or low and high."""
    if isinstance(factor, Categorical):
        return len(factor.levels)
    return len(factor.steps) if isinstance(factor, Stepped) else 2


def all_levels(factors: tuple[Factor, ...], copies: Copies) -> Draft:
    """Return every combination of levels, as often as replicates are asked.

    Raises
    ------
    PlanError
        If blocks are asked that are not whole replicates.
    """
    sizes = tuple(n_levels(factor) for factor in factors)
    index = np.indices(sizes).reshape(len(sizes), -1).T
    verify_product(index.astype(np.float64), sizes)
    coded = np.column_stack([_coded(f, index[:, j]) for j, f in enumerate(factors)])
    replicate = np.repeat(np.arange(1, copies.replicates + 1), len(index))
    return Draft(
        coded=np.tile(coded, (copies.replicates, 1)),
        point=("factorial",) * len(replicate),
        block=_whole_replicates(replicate, copies),
        replicate=replicate,
    )


def _whole_replicates(replicate: NDArray[np.int64], copies: Copies) -> NDArray[np.int64]:
    if copies.replicates % copies.blocks:
        raise PlanError(
            f"{copies.blocks} blocks were asked for with {copies.replicates} replicates.",
            why="With factors of more than two levels a block holds whole replicates.",
            next_step=f"Ask for {copies.blocks} replicates, or for one block.",
        )
    return (replicate - 1) // (copies.replicates // copies.blocks) + 1


def _coded(factor: Factor, index: NDArray[np.int64]) -> NDArray[np.float64]:
    if isinstance(factor, Categorical):
        return index.astype(np.float64)
    if isinstance(factor, Stepped):
        return factor.coded(np.array(factor.steps)[index])
    return np.asarray(2.0 * index - 1.0, dtype=np.float64)
