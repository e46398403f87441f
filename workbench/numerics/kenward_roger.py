"""Kenward and Roger's small-sample tests of fixed terms in a mixed model.

Kenward and Roger (1997), Biometrics 53, 983-997; the limits where their formulas are 0/0 follow
from the exact cases they match (Hotelling's T² and the F of balanced plans).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import fdtrc, stdtr, stdtrit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.numerics.mixed_model import MixedSolution

# E* and V* of the paper count as vanished together below this; df = 2 makes the scale 0/0.
VANISHED = 1e-9
NEAR_TWO = 1e-2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SingleTests:
    """Each combination of coefficients (k,): size, standard error, df, two-sided p."""

    estimates: NDArray[np.float64]
    std_errors: NDArray[np.float64]
    df: NDArray[np.float64]
    p: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class JointTest:
    """A scaled F on `df` and `error_df`; `matched`: both moments of the paper could be met.

    Where they could not, `error_df` is 2l/A₂ and the scale 1.
    """

    statistic: float
    df: int
    error_df: float
    p: float
    matched: bool = True


def kenward_roger_each(fit: MixedSolution, combinations: NDArray[np.float64]) -> SingleTests:
    """Return the test of each row of `combinations` (k, p), df = 2 / A₂ and no scale."""
    df = each_df(fit, combinations, fit.information.uncertainty())
    return single_tests(fit.estimates, fit.adjusted, (combinations, df))


def kenward_roger_joint(fit: MixedSolution, combinations: NDArray[np.float64]) -> JointTest:
    """Return the joint test of the rows (l, p) of `combinations`, independent of one another."""
    count = combinations.shape[0]
    square = joint_square(fit.estimates, fit.adjusted, combinations)
    first, second = _moments(fit, combinations)
    if count == 1:
        return _joint(square, 1, 2 / second)
    error_df, scale = _matched(first, second, count)
    if not 0 < error_df < np.inf or scale <= 0:
        return _joint(square / count, count, 2 * count / second, matched=False)
    return _joint(scale * square / count, count, error_df)


def each_df(
    fit: MixedSolution, combinations: NDArray[np.float64], uncertain: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return 2v² / var(v) (k,) of the variance v of each combination of coefficients.

    `uncertain` (R + 1, R + 1) is the covariance of the variance components (Satterthwaite 1946,
    Biometrics Bulletin 2, 110-114).
    """
    variance = _quadratic(combinations, fit.covariance)
    slope = np.array([_quadratic(combinations, one) for one in fit.turns]) / variance
    return np.asarray(2 / np.einsum("rk,rs,sk->k", slope, uncertain, slope))


def single_tests(
    estimates: NDArray[np.float64],
    covariance: NDArray[np.float64],
    of: tuple[NDArray[np.float64], NDArray[np.float64]],
) -> SingleTests:
    """Return t tests of combinations (k, p) on their df (k,), both given as `of`."""
    combinations, df = of
    size = combinations @ estimates
    std_errors = np.sqrt(_quadratic(combinations, covariance))
    p = 2 * stdtr(df, -np.abs(size) / std_errors)
    return SingleTests(estimates=size, std_errors=std_errors, df=df, p=p)


def joint_square(
    estimates: NDArray[np.float64],
    covariance: NDArray[np.float64],
    combinations: NDArray[np.float64],
) -> float:
    """Return (Lb)′(LΦL′)⁻¹(Lb) for the rows L (l, p) of `combinations`."""
    size = combinations @ estimates
    return float(size @ np.linalg.solve(combinations @ covariance @ combinations.T, size))


def t_quantile(df: NDArray[np.float64], confidence: float) -> NDArray[np.float64]:
    """Return the two-sided t quantiles (k,) of fractional df (k,)."""
    return np.asarray(stdtrit(df, 0.5 + confidence / 2))


def f_tail(statistic: float, df: float, error_df: float) -> float:
    """Return the share of an F distribution above `statistic`."""
    return float(fdtrc(df, error_df, statistic))


def _joint(statistic: float, df: int, error_df: float, *, matched: bool = True) -> JointTest:
    p = f_tail(statistic, df, error_df)
    return JointTest(statistic=statistic, df=df, error_df=error_df, p=p, matched=matched)


def _quadratic(rows: NDArray[np.float64], matrix: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(((rows @ matrix) * rows).sum(axis=1))


def _moments(fit: MixedSolution, combinations: NDArray[np.float64]) -> tuple[float, float]:
    uncertain = fit.information.uncertainty()
    own = combinations @ fit.covariance @ combinations.T
    turned = np.linalg.solve(own, combinations @ fit.turns @ combinations.T)
    traces = np.einsum("rii->r", turned)
    first = float(traces @ uncertain @ traces)
    second = float(np.einsum("rs,rij,sji->", uncertain, turned, turned, optimize=True))
    return first, second


def _matched(first: float, second: float, count: int) -> tuple[float, float]:
    """Return the error df and the scale that match the paper's E* and V*, from A₁ and A₂."""
    both = (first + 6 * second) / (2 * count)
    g = ((count + 1) * first - (count + 4) * second) / ((count + 2) * second)
    below = 3 * count + 2 * (1 - g)
    c1, c2, c3 = g / below, (count - g) / below, (count + 2 - g) / below
    of_mean, of_spread = 1 - second / count, 1 - c2 * both
    vanished = abs(of_mean) < VANISHED and abs(of_spread) < VANISHED
    ratio = 1.0 if vanished else _over(of_mean, of_spread)
    # ρ = V* / 2E*², written without 1/E*, which is 0/0 where the mean of F does not exist.
    rho = ratio**2 * _over(1 + c1 * both, 1 - c3 * both) / count
    error_df = 4 + _over(count + 2, count * rho - 1)
    if abs(error_df - 2) < NEAR_TWO:
        return error_df, 1.0
    return error_df, error_df * of_mean / (error_df - 2)


def _over(above: float, below: float) -> float:
    # An F of four error df has a mean and no variance: ρ is endless there, and so it stays.
    return above / below if below else float(np.inf)
