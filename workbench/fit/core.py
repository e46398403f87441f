"""The solved model behind a fit: estimates, their scatter, and which columns are mixed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import fdtrc, stdtr, stdtrit

from workbench.errors import Unavailable
from workbench.fit.nouns import Estimate
from workbench.numerics.least_squares import factored, solved

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.fit.matrix import FitMatrix
    from workbench.numerics.least_squares import Factored

CONFIDENCE = 0.95  # of every interval that a fit shows
EXACT = 1e-26  # a residual share of the total below this is rounding, not scatter


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Core:
    """One solved model: estimates (p,) with 0 in columns that depend on earlier ones.

    `variance` is that of a run mean, `total` the sum of squares about the mean.
    """

    matrix: FitMatrix
    whole: Factored
    response: NDArray[np.float64]
    estimates: NDArray[np.float64]
    unscaled: NDArray[np.float64]
    residuals: NDArray[np.float64]
    rss: float
    total: float
    variance: float | Unavailable

    @property
    def error_df(self) -> int:
        """Runs minus estimated columns."""
        return self.whole.error_df

    @property
    def is_constant(self) -> bool:
        """Whether every run has the same mean."""
        return self.total == 0

    @property
    def mixed(self) -> NDArray[np.bool_]:
        """Which kept columns (p,) stand for more than themselves."""
        dropped = ~self.whole.kept
        return np.asarray((self.whole.combination[:, dropped] != 0).any(axis=1))


def core(matrix: FitMatrix, response: NDArray[np.float64]) -> Core:
    """Return the model of the response (n,), solved."""
    whole = factored(matrix.X)
    return _core(matrix, (whole, whole.unscaled_covariance()), response)


def with_response(solved_model: Core, response: NDArray[np.float64]) -> Core:
    """Return the same model solved for another response (n,) of the same runs."""
    return _core(solved_model.matrix, (solved_model.whole, solved_model.unscaled), response)


def _core(
    matrix: FitMatrix,
    taken_apart: tuple[Factored, NDArray[np.float64]],
    response: NDArray[np.float64],
) -> Core:
    whole, unscaled = taken_apart
    mean = float(response.mean())
    about_mean = response - mean
    spread = float(response.max()) - float(response.min())
    if spread <= 1e-13 * float(np.abs(response).max()):
        about_mean = np.zeros_like(response)
    solution = solved(whole, about_mean)
    estimates = solution.estimates.copy()
    estimates[0] += mean
    total, rss = float(about_mean @ about_mean), float(solution.rss)
    rss = 0.0 if rss <= EXACT * max(total, mean**2) else rss
    return Core(
        matrix=matrix,
        whole=whole,
        response=response,
        estimates=estimates,
        unscaled=unscaled,
        residuals=solution.residuals,
        rss=rss,
        total=total,
        variance=rss / whole.error_df if whole.error_df else no_error(whole),
    )


def linear(solved_model: Core, weights: NDArray[np.float64]) -> Estimate | Unavailable:
    """Return a weighted sum (weights (p,)) of the estimates with its 95 % interval."""
    variance = solved_model.variance
    if isinstance(variance, Unavailable):
        return variance
    value = float(weights @ solved_model.estimates)
    spread = float(weights @ solved_model.unscaled @ weights)
    std_error = float(np.sqrt(variance * max(spread, 0.0)))
    reach = t_quantile(solved_model.error_df) * std_error
    return Estimate(
        value=value,
        std_error=std_error,
        low=value - reach,
        high=value + reach,
        df=solved_model.error_df,
    )


def t_quantile(df: float, confidence: float = CONFIDENCE) -> float:
    """Return the two-sided quantile of Student's t."""
    return float(stdtrit(df, (1 + confidence) / 2))


def statistic_of(estimate: Estimate | Unavailable) -> float | Unavailable:
    """Return estimate over standard error."""
    if isinstance(estimate, Unavailable):
        return estimate
    if estimate.std_error == 0:
        return no_scatter()
    return estimate.value / estimate.std_error


def t_chance(statistic: float | Unavailable, df: float) -> float | Unavailable:
    """Return the two-sided p of Student's t."""
    if isinstance(statistic, Unavailable):
        return statistic
    return float(2 * stdtr(df, -abs(statistic)))


def f_chance(statistic: float, df: float, error_df: float) -> float:
    """Return the upper tail of the F distribution."""
    return float(fdtrc(df, error_df, statistic))


def no_scatter() -> Unavailable:
    """Return why nothing can be tested where the model meets every run exactly."""
    return Unavailable(
        reason="the model meets every run exactly, so there is no scatter to judge by; "
        "check the resolution of the readings"
    )


def no_error(whole: Factored) -> Unavailable:
    """Return why scatter cannot be judged: no run is left for it."""
    runs, columns = whole.X.shape[0], whole.rank
    return Unavailable(
        reason=f"{runs} runs estimate {columns} columns: no run is left to judge scatter by; "
        "repeat some runs, or ask for fewer terms"
    )
