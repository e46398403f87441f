"""Profile limits and tests of penalised logistic regression, all coefficients side by side.

The profile keeps the whole information in the penalty (Heinze and Schemper 2002, Statistics in
Medicine 21, 2409-2419). Every profile point is solved from two kicked starts and the better is
kept: the constrained maximum can branch, and along one branch the score vanishes on a saddle.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import chdtrc

from workbench.numerics.pass_counts import slopes
from workbench.numerics.penalised_maximum import constrained

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from workbench.numerics.penalised_logistic import PenalisedLogistic

MOST_ROUNDS = 60
FURTHEST = 8.0  # logits that the first step may change any row by
CLOSE = 1e-9  # of the distance from the estimate: where a limit counts as found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ProfileLimits:
    """Lower and upper limits (q,) of the asked coefficients, and whether both were found (q,).

    Where failures are few and the threshold high, an end can lie so far out that the information
    there is lost to rounding; it is then not found.
    """

    low: NDArray[np.float64]
    high: NDArray[np.float64]
    found: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class RatioTest:
    """Penalised likelihood-ratio statistic of some columns together, on df."""

    statistic: float
    df: int
    p: float


def profile_limits(
    fit: PenalisedLogistic, columns: Sequence[int], *, threshold: float
) -> ProfileLimits:
    """Return the ends of where twice the fall of the profile stays below the threshold.

    The χ² quantile on 1 df (3.84 for 95 %), or dispersion × F quantile for a quasi-likelihood.

    Each end is found on the root of the fall, which is nearly straight, by Newton steps with the
    score as slope, kept inside a bracket.
    """
    asked = np.repeat(np.asarray(columns, dtype=np.intp), 2)
    side = np.tile([-1.0, 1.0], len(columns))
    search = _Search(fit, asked, side, root=float(np.sqrt(threshold)))
    for _ in range(MOST_ROUNDS):
        if search.open.size == 0:
            break
        search.advance()
    ends = search.at.reshape(-1, 2)
    found = search.firm.copy()
    found[search.open] = False
    return ProfileLimits(
        low=ends[:, 0].copy(),
        high=ends[:, 1].copy(),
        found=np.asarray(found.reshape(-1, 2).all(axis=1)),
    )


def ratio_tests(fit: PenalisedLogistic, groups: Sequence[Sequence[int]]) -> tuple[RatioTest, ...]:
    """Return the test that all columns of a group are zero, one for each group of columns."""
    n_columns = fit.estimates.size
    free = np.ones((len(groups), n_columns), dtype=bool)
    for row, group in enumerate(groups):
        free[row, list(group)] = False
    if len(groups) == 0:
        return ()
    best = constrained(fit.counts, np.where(free, fit.estimates, 0.0), free=free)
    falls = np.maximum(2 * (fit.penalised_log_likelihood - best.value), 0.0)
    return tuple(
        RatioTest(statistic=float(fall), df=len(group), p=float(chdtrc(len(group), fall)))
        for fall, group in zip(falls, groups, strict=True)
    )


class _Search:
    """Ends of profiles (b,), all sought at once; `open` are those still sought."""

    def __init__(
        self,
        fit: PenalisedLogistic,
        column: NDArray[np.intp],
        side: NDArray[np.float64],
        *,
        root: float,
    ) -> None:
        n = column.size
        self.fit, self.column, self.side, self.root = fit, column, side, root
        self.open = np.arange(n)
        self.firm = np.zeros(n, dtype=bool)
        self.inner = fit.estimates[column].copy()
        self.outer = np.full(n, np.inf) * side
        self.whole = np.tile(fit.estimates, (n, 1))
        reach = root * np.sqrt(np.diagonal(fit.covariance)[column])
        most = FURTHEST / np.maximum(np.abs(fit.counts.X).max(axis=0)[column], 1e-300)
        self.at = self.inner + side * np.minimum(reach, most)

    def advance(self) -> None:
        """Solve the profile at every open place and move each place nearer to its end."""
        some, column = self.open, self.column[self.open]
        free = np.ones((some.size, self.fit.estimates.size), dtype=bool)
        free[np.arange(some.size), column] = False
        best = constrained(self.fit.counts, self._started(free), free=free)
        self.firm[some] = best.settled
        known = np.isfinite(best.value)
        self.whole[some[known]] = best.estimates[known]
        fall = 2 * (self.fit.penalised_log_likelihood - best.value)
        root = np.sqrt(np.maximum(fall, 0.0))
        score = slopes(self.fit.counts, best.estimates).gradient[np.arange(some.size), column]
        self._close_in(some, root, score)

    def _started(self, free: NDArray[np.bool_]) -> NDArray[np.float64]:
        """Return starts along the tangent: held by Δ, the others move by −H_ff⁻¹ H_fc Δ."""
        some, column = self.open, self.column[self.open]
        row = np.arange(some.size)
        hessian = slopes(self.fit.counts, self.whole[some]).hessian
        change = self.at[some] - self.whole[some, column]
        both = free[:, :, None] & free[:, None, :]
        inner = np.where(both, hessian, 0.0) - np.where(free, 0.0, 1.0)[:, :, None] * np.eye(
            free.shape[1]
        )
        cross = np.where(free, hessian[row, column], 0.0)
        moved = -np.linalg.solve(inner, cross[:, :, None])[:, :, 0] * change[:, None]
        most = np.abs(moved @ self.fit.counts.X.T).max(axis=1, keepdims=True)
        starts = self.whole[some] + moved * np.minimum(1.0, 3.0 / np.maximum(most, 1e-300))
        starts[row, column] = self.at[some]
        return np.asarray(starts)

    def _close_in(
        self, some: NDArray[np.intp], root: NDArray[np.float64], score: NDArray[np.float64]
    ) -> None:
        at, side = self.at[some].copy(), self.side[some]
        beyond = root > self.root
        self.outer[some] = np.where(beyond, at, self.outer[some])
        self.inner[some] = np.where(beyond, self.inner[some], at)
        # d root / d place = −score / root; uphill is towards the estimate.
        slope = np.where(root > 0, -score / np.where(root > 0, root, 1.0), 0.0)
        rising = slope * side > 1e-12
        step = np.where(rising, (self.root - root) / np.where(rising, slope, 1.0), np.inf * side)
        inner, outer = self.inner[some], self.outer[some]
        far = 2 * np.abs(at - self.fit.estimates[self.column[some]]) + 1e-6
        limit = np.where(
            np.isfinite(outer),
            (inner + np.where(np.isfinite(outer), outer, 0)) / 2,
            at + side * far,
        )
        goal = at + step
        within = (goal - inner) * side > 0
        within &= (goal * side < outer * side) & (np.abs(goal - at) <= far)
        self.at[some] = np.where(within, goal, limit)
        near = CLOSE * np.abs(at - self.fit.estimates[self.column[some]])
        done = (np.abs(step) <= near) | (np.abs(outer - inner) <= near)
        self.at[some[done]] = np.where(np.abs(step) <= near, goal, at)[done]
        self.open = some[~done]
