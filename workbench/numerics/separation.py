"""Where a logistic regression has no finite maximum-likelihood estimate, by linear programs.

Albert and Anderson (1984), Biometrika 71, 1-10; Konis (2007), Linear programming algorithms for
detecting separated data in binary logistic regression models, DPhil thesis, Oxford.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import linprog

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.numerics.pass_counts import PassCounts

APART = 1e-7


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Separation:
    """Which estimates run off under maximum likelihood.

    `upward` and `downward` (p,) are columns whose coefficient can grow without end in that
    direction, `rows` (n,) those whose rate then goes to 1 or 0; `is_complete` if all of them do.
    """

    upward: NDArray[np.bool_]
    downward: NDArray[np.bool_]
    rows: NDArray[np.bool_]

    @property
    def is_separated(self) -> bool:
        """Whether any estimate runs off."""
        return bool(self.rows.any())

    @property
    def is_complete(self) -> bool:
        """Whether every row's rate goes to 1 or 0."""
        return bool(self.rows.all())


def separation(counts: PassCounts) -> Separation:
    """Return which columns have no finite estimate, and through which rows.

    A direction d separates if x′d ≥ 0 where all parts passed, ≤ 0 where all failed and = 0
    where both were seen, not all zero.
    """
    used = counts.parts > 0
    X = counts.X[used]
    all_passed = (counts.passed >= counts.parts)[used]
    all_failed = (counts.passed <= 0)[used]
    sign = np.where(all_passed, 1.0, -1.0)
    one_sided = all_passed | all_failed
    n_columns = X.shape[1]
    rows = np.zeros(len(counts.X), dtype=bool)
    nothing = np.zeros(n_columns, dtype=bool)
    leaning = sign[one_sided, None] * X[one_sided]
    cone = (leaning, X[~one_sided])
    apart = _direction(cone, leaning.sum(axis=0)) if one_sided.any() else np.zeros(n_columns)
    rows[np.flatnonzero(used)[one_sided]] = leaning @ apart > APART
    if not rows.any():
        return Separation(upward=nothing, downward=nothing.copy(), rows=rows)
    unit = np.eye(n_columns)
    upward = np.array([_direction(cone, one) @ one > APART for one in unit])
    downward = np.array([_direction(cone, -one) @ -one > APART for one in unit])
    return Separation(upward=upward, downward=downward, rows=rows)


def _direction(
    cone: tuple[NDArray[np.float64], NDArray[np.float64]], along: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the direction (p,) in the cone, each element within ±1, furthest along."""
    leaning, level = cone
    found = linprog(
        -along,
        A_ub=-leaning,
        b_ub=np.zeros(len(leaning)),
        A_eq=level if len(level) else None,
        b_eq=np.zeros(len(level)) if len(level) else None,
        bounds=(-1.0, 1.0),
        method="highs",
    )
    return np.asarray(found.x if found.x is not None else np.zeros(along.size))
