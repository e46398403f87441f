"""Ends of profile intervals of counts, by the slope that each held fit gives for nothing.

Venzon and Moolgavkar (1988), Applied Statistics 37, 87-94, find the end of a profile interval by
Newton's method. Here the root of the rise of the deviance is followed: it is nearly straight, and
the multiplier of the held sum is its slope, so that two or three held fits find an end.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.numerics.counts import SETTLED, SMALLEST, STEPS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.numerics.counts import CountRows, CountSolution

LOOKS = 60
CLOSE = 1e-9  # of the root of the rise that is sought


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bounded:
    """Columns (n, p) and rows with a finite solution, and the weights (p,) of the sum held."""

    X: NDArray[np.float64]
    rows: CountRows
    solution: CountSolution
    weights: NDArray[np.float64]

    @property
    def value(self) -> float:
        """The sum at the solution."""
        return float(self.weights @ self.solution.estimates)

    @property
    def std_error(self) -> float:
        """Its standard error without overdispersion."""
        return float(np.sqrt(self.weights @ self.solution.covariance @ self.weights))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Held:
    deviance: float
    slope: float
    estimates: NDArray[np.float64]


def profile_end_by_slope(problem: Bounded, *, side: int, rise: float) -> float | None:
    """Return where the deviance has risen by `rise` on one side (−1, +1); None if not found."""
    root = float(np.sqrt(rise))
    inside, outside = 0.0, np.inf  # distances from the estimate
    away, near = root * problem.std_error, problem.solution.estimates
    for _ in range(LOOKS):
        held = _held(problem, problem.value + side * away, near)
        near = held.estimates
        reached = float(np.sqrt(max(held.deviance - problem.solution.deviance, 0.0)))
        if abs(reached - root) <= CLOSE * root:
            return problem.value + side * away
        inside, outside = (away, outside) if reached < root else (inside, away)
        slope = side * held.slope / (2 * reached) if reached > 0 else 0.0
        further = away + (root - reached) / slope if slope > 0 else np.inf
        if not inside < further < outside:
            further = 2 * away if np.isinf(outside) else (inside + outside) / 2
        away = further
    return None


def _held(problem: Bounded, value: float, near: NDArray[np.float64]) -> _Held:
    """Return the lowest deviance with the sum held at a value, and its slope there."""
    X, rows, weights = problem.X, problem.rows, problem.weights
    way = problem.solution.covariance @ weights
    at = near + way * ((value - weights @ near) / (weights @ way))
    mean = rows.mean(X @ at)
    deviance, slope = rows.deviance(mean), 0.0
    for _ in range(STEPS):
        uphill = X.T @ (rows.count - mean)
        both = np.linalg.solve((X.T * rows.variance(mean)) @ X, np.column_stack([uphill, weights]))
        multiplier = (weights @ both[:, 0]) / (weights @ both[:, 1])
        step, slope = both[:, 0] - multiplier * both[:, 1], -2 * float(multiplier)
        gain, size = float(uphill @ step), 1.0
        further = rows.mean(X @ (at + step))
        while rows.deviance(further) > deviance + 1e-13 * (1 + deviance) and size > SMALLEST:
            size /= 2
            further = rows.mean(X @ (at + size * step))
        at, mean, deviance = at + size * step, further, rows.deviance(further)
        if gain < SETTLED * (1 + deviance):
            break
    return _Held(deviance=deviance, slope=slope, estimates=at)
