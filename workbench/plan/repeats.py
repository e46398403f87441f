"""Partial replication and the dry run: some runs twice, and the corners first."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical
from workbench.define.model_matrix import model_matrix
from workbench.errors import PlanError
from workbench.plan.changed import changed, in_order
from workbench.plan.order import run_order
from workbench.plan.verify import block_columns

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.define.settings import Settings
    from workbench.plan.plans import Plan

USUAL_STOPPING_RULE = "If the first three runs all fail, stop and re-scope the ranges."
CORNERS = 4


def with_repeats(plan: Plan, *, n_repeats: int, seed: int) -> Plan:
    """Return the plan with `n_repeats` of its runs made twice, for pure error.

    The repeated runs are those that sharpen the model's estimates most (largest gain in the
    determinant of X′X, blocks in it, one by one; Dykstra 1971, Technometrics 13, 682-688). All
    runs are put in a new random order; a repeat stays in the block of its run.

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
    order = run_order(plan.block[rows], setup, last_block=plan.closing_block, rng=rng)
    note = (
        f"{n_repeats} {'run is' if n_repeats == 1 else 'runs are'} made twice, set afresh each "
        f"time: {n_repeats} more degrees of freedom for pure error."
    )
    options = (("repeated runs", str(n_repeats)), ("repeat seed", str(seed)))
    standard = np.concatenate([plan.standard, len(plan) + 1 + np.arange(n_repeats)])
    new = in_order(plan, rows[order.rows], order=order, standard=standard[order.rows])
    return changed(plan, new, options=options, note=note)


def corner_dry_run(plan: Plan) -> Settings:
    """Return up to four runs to try before the trial: the outermost, far from one another.

    Whether a part can be made there at all is learned before the sheet begins.
    """
    coded = plan.settings.coded()
    distinct = np.unique(coded, axis=0, return_index=True)[1]
    points = _places(plan.settings.factors, coded[distinct])
    chosen = [int(np.argmax(np.linalg.norm(points, axis=1)))]
    while len(chosen) < min(CORNERS, len(points)):
        gap = np.linalg.norm(points[:, None] - points[chosen], axis=2).min(axis=1)
        chosen.append(int(np.argmax(gap + 1e-9 * np.linalg.norm(points, axis=1))))
    return plan.settings.rows(distinct[chosen])


def _places(factors: tuple[Factor, ...], coded: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return coordinates (m, q), two levels of a category as far apart as low and high."""
    columns = []
    for factor, column in zip(factors, coded.T, strict=True):
        if isinstance(factor, Categorical):
            own = column[:, None] == np.arange(len(factor.levels))
            columns.append(np.sqrt(2.0) * own)
        else:
            columns.append(column[:, None])
    return np.hstack(columns)


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
