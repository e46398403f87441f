"""Constrained maxima of the penalised logistic likelihood, many at once.

The branch that a constrained maximum takes can split: along the symmetric path the score is then
zero on a saddle. So each is started from two kicked points, and a saddle is left along its rising
direction.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.numerics.pass_counts import penalised_values, slopes

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.numerics.pass_counts import PassCounts, Slopes

MOST_STEPS = 80
SETTLED = 1e-10  # Newton decrement: one more full step is then exact to rounding
FLAT = 1e-9  # share of the largest curvature below which a direction counts as flat
LONGEST = 4.0  # logits that one step may change any row by
KICK = 0.3  # standard deviations along the softest direction


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Maxima:
    """Constrained maxima (b, p), the penalised log-likelihood there and whether settled (b,)."""

    estimates: NDArray[np.float64]
    value: NDArray[np.float64]
    settled: NDArray[np.bool_]


def maxima(counts: PassCounts, starts: NDArray[np.float64], *, free: NDArray[np.bool_]) -> Maxima:
    """Return the maximum over the free columns (b, p) from each start (b, p), others held.

    Newton's method with curvatures taken by their size, so that it climbs from anywhere; a point
    where the score is zero and some curvature upward is left along that direction.
    """
    points = np.array(starts, dtype=np.float64)
    value = np.full(len(points), -np.inf)
    settled = np.zeros(len(points), dtype=bool)
    active = np.flatnonzero(np.isfinite(penalised_values(counts, points)))
    reach = np.abs(counts.X).max(axis=0)
    for _ in range(MOST_STEPS):
        if active.size == 0:
            break
        here = slopes(counts, points[active])
        value[active] = here.value
        step, decrement = _ascent(here, free[active], reach)
        done = decrement < SETTLED
        settled[active[done]] = True
        points[active[done]] += step[done]
        value[active[done]] += decrement[done] / 2
        active, step, decrement = active[~done], step[~done], decrement[~done]
        moved = _climbed(counts, (points[active], value[active]), step)
        stuck = (moved == points[active]).all(axis=1)
        points[active] = moved
        settled[active[stuck]] = decrement[stuck] < 1e-7
        active = active[~stuck]
    return Maxima(estimates=points, value=value, settled=settled)


def kicked(
    counts: PassCounts, points: NDArray[np.float64], *, free: NDArray[np.bool_]
) -> NDArray[np.float64]:
    """Return two starts (2b, p) a point (b, p), to either side along its softest direction."""
    here = slopes(counts, points)
    curvature, directions = _curvatures(here.hessian, free)
    # Held columns have curvature inf, so they are never the softest.
    place = np.argmin(np.abs(curvature), axis=1)
    row = np.arange(len(points))
    size = KICK / np.sqrt(np.maximum(np.abs(curvature[row, place]), 1e-2))
    most = 1.0 / np.maximum(np.abs(directions[row, :, place] @ counts.X.T).max(axis=1), 1e-12)
    kick = directions[row, :, place] * np.minimum(size, most)[:, None]
    return np.concatenate([points + kick, points - kick])


def constrained(
    counts: PassCounts, starts: NDArray[np.float64], *, free: NDArray[np.bool_]
) -> Maxima:
    """Return the better of two kicked maximisations from each start (b, p)."""
    twice = maxima(counts, kicked(counts, starts, free=free), free=np.concatenate([free, free]))
    n = len(starts)
    row = np.where(twice.value[:n] >= twice.value[n:], np.arange(n), np.arange(n) + n)
    return Maxima(
        estimates=twice.estimates[row], value=twice.value[row], settled=twice.settled[row]
    )


def _curvatures(
    hessian: NDArray[np.float64], free: NDArray[np.bool_]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return eigenvalues (b, p) and vectors of −H over the free columns, inf for held ones."""
    both = free[:, :, None] & free[:, None, :]
    n_columns = free.shape[1]
    size = np.abs(hessian).sum(axis=(1, 2)) * 4 + 1.0
    held = np.where(free, 0.0, size[:, None])[:, :, None] * np.eye(n_columns)
    values, vectors = np.linalg.eigh(np.where(both, -hessian, 0.0) + held)
    n_held = (~free).sum(axis=1)
    is_held = np.arange(n_columns) >= (n_columns - n_held)[:, None]
    return np.where(is_held, np.inf, values), vectors


def _ascent(
    here: Slopes, free: NDArray[np.bool_], reach: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return uphill steps (b, p) and the Newton decrements (b,)."""
    curvature, directions = _curvatures(here.hessian, free)
    along = np.einsum("bjk,bj->bk", directions, np.where(free, here.gradient, 0.0))
    largest = np.where(np.isfinite(curvature), np.abs(curvature), 0.0).max(axis=1, keepdims=True)
    size = np.maximum(np.abs(curvature), FLAT * np.maximum(largest, 1e-300))
    move = along / size
    decrement = (along * move).sum(axis=1)
    lowest = curvature[:, 0]
    saddle = (decrement < 1e-8) & (lowest < -1e-4 * largest[:, 0])
    move[saddle, 0] = np.where(along[saddle, 0] < 0, -1, 1) * KICK / np.sqrt(-lowest[saddle])
    decrement = np.where(saddle, np.inf, decrement)
    step = np.einsum("bjk,bk->bj", directions, move)
    longest = (np.abs(step) * reach).max(axis=1, initial=1e-300)
    return step * np.minimum(1.0, LONGEST / longest)[:, None], decrement


def _climbed(
    counts: PassCounts,
    at: tuple[NDArray[np.float64], NDArray[np.float64]],
    step: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return each point moved by its step, halved until the value does not fall."""
    points, value = at
    moved = points + step
    lower = penalised_values(counts, moved) < value - 1e-13 * np.abs(value)
    for _ in range(30):
        if not lower.any():
            return moved
        step = np.where(lower[:, None], step / 2, step)
        moved = np.where(lower[:, None], points + step, moved)
        lower = penalised_values(counts, moved) < value - 1e-13 * np.abs(value)
    return np.where(lower[:, None], points, moved)
