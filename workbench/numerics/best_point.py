"""The best point of a box: a lattice to find the right hill, then a simplex to climb it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import minimize

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

STARTS = 4  # best points of the lattice from which to climb
LINES = {1: 201, 2: 41, 3: 21, 4: 11}
TOLERANCE = 1e-9
OUT = 1e30


def lattice(
    low: NDArray[np.float64], high: NDArray[np.float64], lines: int
) -> NDArray[np.float64]:
    """Return every combination (lines^k, k) of even values along each side of a box."""
    sides = [
        np.linspace(a, b, lines) if b > a else np.array([a])
        for a, b in zip(low, high, strict=True)
    ]
    mesh = np.meshgrid(*sides, indexing="ij")
    return np.column_stack([one.ravel() for one in mesh])


def best_point(
    objective: Callable[[NDArray[np.float64]], NDArray[np.float64]],
    low: NDArray[np.float64],
    high: NDArray[np.float64],
    *,
    may: Callable[[NDArray[np.float64]], NDArray[np.bool_]] | None = None,
    tolerance: float = TOLERANCE,
) -> NDArray[np.float64] | None:
    """Return the point (k,) of a box with the highest objective, among those that may be used.

    `objective` and `may` take points (n, k). Every combination of even values is looked at; from
    the best of them simplexes climb (Nelder and Mead 1965, Computer Journal 7, 308-313), which
    need no slope, so that kinks do no harm; they rest at `tolerance` of a side. None if no point
    of the lattice may be used.
    """
    span = np.where(high > low, high - low, 1.0)
    points = lattice(low, high, LINES.get(low.size, 7))
    allowed = np.ones(len(points), dtype=bool) if may is None else may(points)
    if not allowed.any():
        return None
    points = points[allowed]
    values = objective(points)
    starts = points[np.argsort(-values, kind="stable")[:STARTS]]

    def cost(unit: NDArray[np.float64]) -> float:
        at = (low + unit * span)[None, :]
        if may is not None and not may(at)[0]:
            return OUT
        return -float(objective(at)[0])

    bounds = [(0.0, 1.0) if b > a else (0.0, 0.0) for a, b in zip(low, high, strict=True)]
    climbed = [
        _climbed(cost, (start - low) / span, bounds, tolerance=tolerance) for start in starts
    ]
    best = min(climbed, key=cost)
    return np.asarray(np.clip(low + best * span, low, high))


def _climbed(
    cost: Callable[[NDArray[np.float64]], float],
    start: NDArray[np.float64],
    bounds: list[tuple[float, float]],
    *,
    tolerance: float,
) -> NDArray[np.float64]:
    """Return where a simplex comes to rest; started anew where it first did, as it may stall."""
    at = start
    for size in (0.1, 0.02):
        corners = np.vstack([at, *(_pushed(at, j, size) for j in range(at.size))])
        found = minimize(
            cost,
            at,
            method="Nelder-Mead",
            bounds=bounds,
            options={
                "initial_simplex": corners,
                "xatol": tolerance,
                "fatol": tolerance,
                "maxiter": 400 * at.size,
            },
        )
        at = np.asarray(found.x)
    return at


def _pushed(at: NDArray[np.float64], j: int, size: float) -> NDArray[np.float64]:
    moved = at.copy()
    moved[j] += size if at[j] + size <= 1.0 else -size
    return moved
