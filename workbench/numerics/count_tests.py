"""Quasi-likelihood tests and intervals of counts that may scatter more than chance alone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import chdtrc, fdtrc, ndtri, stdtrit

from workbench.errors import Unavailable
from workbench.numerics.count_profile import Bounded, profile_end_by_slope
from workbench.numerics.counts import count_regression, deviance_at
from workbench.numerics.profiles import profile_end, profile_span
from workbench.numerics.spans import Span

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.numerics.counts import CountRows, CountSolution


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CountProblem:
    """Columns (n, p), rows and the solution that was found for them; `dispersion` judges it."""

    X: NDArray[np.float64]
    rows: CountRows
    solution: CountSolution
    dispersion: float


@dataclass(frozen=True, slots=True, kw_only=True)
class QuasiTest:
    """Rise of the deviance without a term, its F = rise/df/dispersion on (df, error_df), p."""

    rise: float
    df: int
    error_df: float
    statistic: float
    p: float


def quasi_test(problem: CountProblem, places: NDArray[np.intp]) -> QuasiTest:
    """Return the test that the coefficients at `places` are zero.

    F over `problem.dispersion` (McCullagh and Nelder 1989, section 9.2), chi square where the
    counts scatter no more than by chance.
    """
    kept = np.setdiff1d(np.arange(problem.X.shape[1]), places)
    bounded = problem.solution.endless is None
    smaller = count_regression(problem.X[:, kept], problem.rows, is_bounded=bounded)
    rise = max(smaller.deviance - problem.solution.deviance, 0.0)
    df, error_df = int(places.size), problem.solution.judging_df
    statistic = rise / df / problem.dispersion
    return QuasiTest(
        rise=rise,
        df=df,
        error_df=error_df,
        statistic=statistic,
        p=upper_tail(statistic, df, error_df),
    )


def upper_tail(statistic: float, df: int, error_df: float) -> float:
    """Return the upper tail of F, of chi square over df where the error df are inf."""
    if np.isinf(error_df):
        return float(chdtrc(df, df * statistic))
    return float(fdtrc(df, error_df, statistic))


def two_sided(error_df: float, confidence: float) -> float:
    """Return the two-sided quantile of t, of the normal distribution where the df are inf."""
    share = (1 + confidence) / 2
    return float(ndtri(share) if np.isinf(error_df) else stdtrit(error_df, share))


def quasi_limits(
    problem: CountProblem, weights: NDArray[np.float64], *, confidence: float
) -> Span | Unavailable:
    """Return where the deviance rises by dispersion × t², for a weighted sum of coefficients.

    Where the sum goes without end, the one end that exists; the other is inf.
    """
    t = two_sided(problem.solution.judging_df, confidence)
    allowed = problem.dispersion * t * t
    value = float(weights @ problem.solution.estimates)
    spread = float(weights @ problem.solution.covariance @ weights)
    size = float(np.sqrt(problem.dispersion * max(spread, 0.0)))

    found, near = problem.solution.endless, problem.solution.estimates

    def rise(at: float) -> float:
        held = (weights, at)
        lowest = deviance_at(problem.X, problem.rows, held, near=near, is_bounded=found is None)
        return lowest - problem.solution.deviance

    way = 0 if found is None else found.rises(weights)
    if found is None:
        ends = _ends_by_slope(problem, weights, allowed)
        if ends is not None:
            return ends
    if way == 0:
        return profile_span(rise, start=value, std_error=size, threshold=allowed)
    if way == 2:
        return Unavailable(reason="the counts bound it on neither side")
    inside = value
    while rise(inside) > allowed:
        inside += float(way)
    end = profile_end(rise, start=inside, step=-float(way), threshold=allowed)
    return Span(low=end, high=np.inf) if way > 0 else Span(low=-np.inf, high=end)


def _ends_by_slope(
    problem: CountProblem, weights: NDArray[np.float64], allowed: float
) -> Span | None:
    bounded = Bounded(X=problem.X, rows=problem.rows, solution=problem.solution, weights=weights)
    low, high = (profile_end_by_slope(bounded, side=side, rise=allowed) for side in (-1, 1))
    return None if low is None or high is None else Span(low=low, high=high)
