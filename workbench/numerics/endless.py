"""Directions in which a likelihood rises for ever, found by linear programming.

Such a direction d has x′d = 0 on rows that hold the fit, x′d ≥ 0 on rows that only pull upwards
(an open upper end, all passed) and x′d ≤ 0 on rows that only pull downwards (Albert and Anderson
1984, Biometrika 71, 1-10; Santner and Duffy 1986, Biometrika 73, 755-758).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import linprog

if TYPE_CHECKING:
    from numpy.typing import NDArray

TOLERANCE = 1e-7


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Endless:
    """Rows (n,) whose likelihood rises for ever, and the cone d = basis @ z, pulls @ z ≥ 0.

    Without those `rows` the maximum is reached; `held` (p, r) spans the sums of coefficients
    that stay finite.
    """

    rows: NDArray[np.bool_]
    basis: NDArray[np.float64]
    pulls: NDArray[np.float64]
    held: NDArray[np.float64]

    def is_finite(self, weights: NDArray[np.float64]) -> bool:
        """Return whether the weighted sum (weights (p,)) of coefficients has an estimate."""
        left = weights - self.held @ (self.held.T @ weights)
        return bool(np.linalg.norm(left) <= TOLERANCE * max(float(np.linalg.norm(weights)), 1.0))

    def rises(self, weights: NDArray[np.float64]) -> int:
        """Return +1 or −1 where the sum goes without end that way alone, 0 if it is finite.

        2 where both ways are open: then nothing at all is known of it.
        """
        if self.is_finite(weights):
            return 0
        slope = weights @ self.basis
        up, down = (self._furthest(sign * slope) > TOLERANCE for sign in (1.0, -1.0))
        return 2 if up and down else (1 if up else -1)

    def _furthest(self, slope: NDArray[np.float64]) -> float:
        found = linprog(
            -slope,
            A_ub=np.vstack([-self.pulls, self.pulls]),
            b_ub=np.concatenate([np.zeros(len(self.pulls)), np.ones(len(self.pulls))]),
            bounds=(None, None),
        )
        # Pulls have full column rank with the rows that hold, so the program is bounded.
        return -float(found.fun or 0.0) if found.status == 0 else np.inf


def endless(X: NDArray[np.float64], pull: NDArray[np.int64]) -> Endless | None:
    """Return where the likelihood rises for ever, None if it has a maximum.

    `X` (n, p) has independent columns; `pull` (n,) is 0 for rows that hold the fit, +1 for those
    that only pull upwards, −1 downwards.
    """
    basis = _null_space(X[pull == 0], X.shape[1])
    if basis.shape[1] == 0:
        return None
    free = pull != 0
    pulls = (pull[free, None] * X[free]) @ basis
    strict = _strict_rows(pulls)
    if not strict.any():
        return None
    rows = np.zeros(pull.size, dtype=bool)
    rows[np.flatnonzero(free)[strict]] = True
    return Endless(rows=rows, basis=basis, pulls=pulls, held=_row_space(X[~rows], X.shape[1]))


def _strict_rows(pulls: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Return the rows that some direction of the cone moves: the most of them at once."""
    m, k = pulls.shape
    if k == 1:
        column = pulls[:, 0]
        for sign in (1.0, -1.0):
            if (sign * column >= -TOLERANCE).all():
                return np.asarray(sign * column > TOLERANCE)
        return np.zeros(m, dtype=bool)
    found = linprog(
        np.concatenate([np.zeros(k), -np.ones(m)]),
        A_ub=np.hstack([-pulls, np.eye(m)]),
        b_ub=np.zeros(m),
        bounds=[(None, None)] * k + [(0.0, 1.0)] * m,
    )
    moved = np.zeros(m) if found.x is None else found.x[k:]
    return np.asarray(moved > TOLERANCE)


def _null_space(X: NDArray[np.float64], p: int) -> NDArray[np.float64]:
    if X.shape[0] == 0:
        return np.eye(p)
    # With as many rows as columns the short form already holds every right vector.
    _, sizes, right = np.linalg.svd(X, full_matrices=X.shape[0] < p)
    rank = int((sizes > sizes[0] * 1e-10).sum()) if sizes[0] > 0 else 0
    return np.asarray(right[rank:].T)


def _row_space(X: NDArray[np.float64], p: int) -> NDArray[np.float64]:
    if X.shape[0] == 0:
        return np.empty((p, 0))
    _, sizes, right = np.linalg.svd(X, full_matrices=False)
    rank = int((sizes > sizes[0] * 1e-10).sum()) if sizes[0] > 0 else 0
    return np.asarray(right[:rank].T)
