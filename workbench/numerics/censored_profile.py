"""Profile intervals and likelihood-ratio tests of censored regression, for small samples."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import fdtrc, stdtrit

from workbench.errors import Unavailable
from workbench.numerics.censored import censored
from workbench.numerics.profiles import profile_end, profile_span
from workbench.numerics.spans import Span

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.numerics.censored import CensoredSolution, Rows


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CensoredProblem:
    """Columns (n, p), rows and family with the maximum that was found for them."""

    X: NDArray[np.float64]
    rows: Rows
    family: str
    solution: CensoredSolution

    @property
    def error_df(self) -> float:
        """H − p: the degrees of freedom that stand in for runs minus columns."""
        return self.rows.information - float(self.X.shape[1])


@dataclass(frozen=True, slots=True, kw_only=True)
class RatioTest:
    """Likelihood-ratio test: twice the fall, its F on (df, error_df), and p."""

    fall: float
    df: int
    error_df: float
    statistic: float
    p: float


def sigma_in_small_samples(problem: CensoredProblem) -> float:
    """Return sigma √(h/(h − p)), which is s where nothing is cut off.

    Maximum likelihood is low by that much then; with cut-off readings the same factor is a rule
    of ours, held to simulations (tests/studies/censored_errors.py).
    """
    h = problem.rows.information
    return problem.solution.sigma * float(np.sqrt(h / problem.error_df))


def threshold(problem: CensoredProblem, *, confidence: float) -> float:
    """Return h log(1 + t²/(h − p)), the fall at the ends of a profile interval.

    Exact where nothing is cut off (then it is the usual t interval); h = (n + u)/2 elsewhere is
    a rule of ours, held to simulations (tests/studies/censored_errors.py).
    """
    h, df = problem.rows.information, problem.error_df
    t = float(stdtrit(df, (1 + confidence) / 2))
    return h * float(np.log1p(t * t / df))


def limits(
    problem: CensoredProblem, weights: NDArray[np.float64], *, fall_allowed: float
) -> Span | Unavailable:
    """Return the profile interval of a weighted sum (weights (p,)) of coefficients.

    Where the sum rises for ever, the one end that exists; the other is inf.
    """
    best = problem.solution.log_likelihood
    value = float(weights @ problem.solution.estimates)
    size = _std_error(problem, weights)

    def fall(at: float) -> float:
        held = log_likelihood_at(problem, weights, value=at)
        return 2 * (best - held) if np.isfinite(held) else np.inf

    way = 0 if problem.solution.endless is None else problem.solution.endless.rises(weights)
    if way == 0:
        return profile_span(fall, start=value, std_error=size, threshold=fall_allowed)
    if way == 2:
        return Unavailable(reason="the readings bound it on neither side")
    inside = value
    while fall(inside) > fall_allowed:
        inside += way * problem.solution.sigma
    end = profile_end(fall, start=inside, step=-way * size, threshold=fall_allowed)
    return Span(low=end, high=np.inf) if way > 0 else Span(low=-np.inf, high=end)


def ratio_test(problem: CensoredProblem, places: NDArray[np.intp]) -> RatioTest | Unavailable:
    """Return the test that the coefficients at `places` (q,) are zero.

    F = (e^(fall/h) − 1)(h − p)/q on q and h − p degrees of freedom: where nothing is
    cut off, the F test of least squares.
    """
    kept = np.setdiff1d(np.arange(problem.X.shape[1]), places)
    smaller = censored(problem.X[:, kept], problem.rows, family=problem.family)
    if isinstance(smaller, Unavailable):
        return smaller
    fall = max(2 * (problem.solution.log_likelihood - smaller.log_likelihood), 0.0)
    h, df = problem.rows.information, problem.error_df
    statistic = float(np.expm1(min(fall / h, 600.0))) * df / places.size
    return RatioTest(
        fall=fall,
        df=int(places.size),
        error_df=df,
        statistic=statistic,
        p=float(fdtrc(places.size, df, statistic)),
    )


def log_likelihood_at(
    problem: CensoredProblem, weights: NDArray[np.float64], *, value: float
) -> float:
    """Return the highest log-likelihood with the weighted sum held at a value."""
    pivot = int(np.argmax(np.abs(weights)))
    others = np.delete(np.arange(weights.size), pivot)
    carrier = problem.X[:, pivot] / weights[pivot]
    columns = problem.X[:, others] - np.outer(carrier, weights[others])
    solved = censored(columns, problem.rows.less(carrier * value), family=problem.family)
    return -np.inf if isinstance(solved, Unavailable) else solved.log_likelihood


def _std_error(problem: CensoredProblem, weights: NDArray[np.float64]) -> float:
    p = weights.size
    variance = float(weights @ problem.solution.covariance[:p, :p] @ weights)
    return float(np.sqrt(variance)) if variance > 0 else problem.solution.sigma
