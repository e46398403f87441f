"""Partial replication and the dry run: some runs twice, and the corners first."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.model_matrix import model_matrix
from workbench.errors import PlanError
from workbench.plan.order import run_order
from workbench.plan.verify import block_columns

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.settings import Settings
    from workbench.plan.plans import Plan

USUAL_STOPPING_RULE = "If the first three runs all fail, stop and re-scope the ranges."
CORNERS = 4


def with_repeats(plan: Plan, *, n_repeats: int, seed: int) -> Plan:
    """Return the plan with `n_repeats` of its runs made twice, for pure error.

    The repeated runs are those that sharpen the model's estimates most (largest gain in the
    determinant of X′X, one by one; Dykstra 1971, Technometrics 13, 682-688), spread over the
    blocks; all runs are put in a new random order.

    Raises
    ------
    PlanError
        If fewer than one or more than all runs are to be repeated.
    """
    if not 1 <= n_repeats <= len(plan):
        raise PlanError(
            f"{n_repeats} of {len(plan)} runs were to be repeated.",
            why="Part of a plan is repeated, from one run up to all.",
            next_step=f"Ask for 1 to {len(plan)} repeats.",
        )
    chosen = _most_useful(plan, n_repeats)
    rows = np.concatenate([np.arange(len(plan)), chosen])
    # A repeat is a fresh setting: it has a reset of its own.
    setup = np.concatenate([plan.setup, plan.setup.max() + 1 + np.arange(n_repeats)])
    rng = np.random.Generator(np.random.PCG64(seed))
    order = run_order(plan.block[rows], setup, last_block=None, rng=rng)
    take = rows[order.rows]
    recipe = replace(
        plan.recipe,
        options=(
            *plan.recipe.options,
            ("repeated runs", str(n_repeats)),
            ("repeat seed", str(seed)),
        ),
        notes=(
            *plan.recipe.notes,
            f"{n_repeats} runs are made twice, each set afresh: {n_repeats} degrees of freedom "
            "for pure error.",
        ),
    )
    return replace(
        plan,
        settings=plan.settings.rows(take),
        block=order.block,
        setup=order.setup,
        point=tuple(plan.point[row] for row in take),
        standard=plan.standard[take],
        recipe=recipe,
    )


def corner_dry_run(plan: Plan) -> Settings:
    """Return up to four runs to try before the trial: the outermost, far from one another.

    Whether a part can be made there at all is learned before the sheet begins.
    """
    coded = plan.settings.coded()
    distinct = np.unique(coded, axis=0, return_index=True)[1]
    points = coded[distinct]
    chosen = [int(np.argmax(np.linalg.norm(points, axis=1)))]
    while len(chosen) < min(CORNERS, len(points)):
        gap = np.linalg.norm(points[:, None] - points[chosen], axis=2).min(axis=1)
        chosen.append(int(np.argmax(gap + 1e-9 * np.linalg.norm(points, axis=1))))
    return plan.settings.rows(distinct[chosen])


def _most_useful(plan: Plan, count: int) -> NDArray[np.intp]:
    X = np.hstack([model_matrix(plan.terms, plan.settings).X, block_columns(plan.block)])
    covariance = np.linalg.inv(X.T @ X)
    taken: list[int] = []
    for _ in range(count):
        gain = np.einsum("ij,jk,ik->i", X, covariance, X)
        gain[taken] = -np.inf
        best = int(np.argmax(np.round(gain, 9)))
        taken.append(best)
        # det(M + xx′) = det(M)(1 + x′M⁻¹x); the inverse follows by Sherman and Morrison (1950).
        reach = covariance @ X[best]
        covariance = covariance - np.outer(reach, reach) / (1 + X[best] @ reach)
    return np.array(taken, dtype=np.intp)
