"""Regression of counts: Poisson with a log link, binomial (x out of n) with a logit.

McCullagh and Nelder (1989), Generalized Linear Models, chapters 4, 6 and 9.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import expit, xlogy

from workbench.numerics.endless import endless

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.numerics.endless import Endless

STEPS, SMALLEST = 100, 1e-9
SETTLED = 1e-12  # fall of the deviance that a full step would still bring
STEEPEST = 500.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CountRows:
    """Counts (n,) with offsets (n,) on the link scale; `trials` (n,) for x out of n, else None."""

    count: NDArray[np.float64]
    offset: NDArray[np.float64]
    trials: NDArray[np.float64] | None = None

    @property
    def pull(self) -> NDArray[np.int64]:
        """−1 for a count of none, +1 for all of the trials, 0 for those that hold the fit."""
        none = -(self.count == 0).astype(np.int64)
        return none if self.trials is None else np.asarray(none + (self.count == self.trials))

    def some(self, chosen: NDArray[np.bool_]) -> CountRows:
        """Return the chosen rows."""
        trials = None if self.trials is None else self.trials[chosen]
        return CountRows(count=self.count[chosen], offset=self.offset[chosen], trials=trials)

    def moved(self, shift: NDArray[np.float64]) -> CountRows:
        """Return the rows with shift (n,) added to the offset."""
        return CountRows(count=self.count, offset=self.offset + shift, trials=self.trials)

    def mean(self, link: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return mean counts (n,) at x′β (n,)."""
        level = link + self.offset
        if self.trials is None:
            return np.asarray(np.exp(np.minimum(level, STEEPEST)))
        return np.asarray(self.trials * expit(level))

    def variance(self, mean: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return variances (n,) without overdispersion: the weights of the information."""
        return mean if self.trials is None else mean * (1 - mean / self.trials)

    def deviance(self, mean: NDArray[np.float64]) -> float:
        """Return the deviance of means (n,)."""
        return float(self.deviances(mean).sum())

    def deviances(self, mean: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return each row's part (n,) of the deviance."""
        y, safe = self.count, np.maximum(mean, 1e-300)
        found = xlogy(y, np.maximum(y, 1e-300) / safe)
        if self.trials is None:
            return np.asarray(2 * (found - (y - mean)))
        rest, missed = self.trials - y, np.maximum(self.trials - mean, 1e-300)
        return np.asarray(2 * (found + xlogy(rest, np.maximum(rest, 1e-300) / missed)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CountSolution:
    """Estimates (p,) with (X′WX)⁻¹ (p, p), mean counts (n,), deviance and Pearson statistic.

    Where the likelihood rises for ever (`endless`) the deviance is its lower bound; estimates
    are then the part that the other rows hold. `error_df` counts those rows alone.
    """

    estimates: NDArray[np.float64]
    covariance: NDArray[np.float64]
    mean: NDArray[np.float64]
    deviance: float
    pearson: float
    error_df: int
    endless: Endless | None

    def __post_init__(self) -> None:
        for array in (self.estimates, self.covariance, self.mean):
            array.setflags(write=False)

    def is_finite(self, weights: NDArray[np.float64]) -> bool:
        """Return whether a weighted sum of coefficients has an estimate."""
        return self.endless is None or self.endless.is_finite(weights)

    @property
    def dispersion(self) -> float:
        """Pearson statistic over its degrees of freedom, never below 1.

        A count scatters at least as Poisson's law (a share at least as the binomial) says; fewer
        rows than columns leave it at 1.
        """
        return max(self.pearson / self.error_df, 1.0) if self.error_df > 0 else 1.0

    @property
    def judging_df(self) -> float:
        """Degrees of freedom of the dispersion, inf where it is not above that of chance.

        With the floor of 1 and F together the 5 % test of counts without any further scatter has
        a size of 2 % or less (tests/studies/count_and_grade_errors.py).
        """
        return float(self.error_df) if self.pearson > self.error_df else float(np.inf)


def count_regression(
    X: NDArray[np.float64],
    rows: CountRows,
    *,
    near: NDArray[np.float64] | None = None,
    is_bounded: bool = False,
) -> CountSolution:
    """Return the maximum-likelihood fit of the columns X (n, p), independent, to the counts.

    `near` (p,) are estimates to start from; `is_bounded` says that the likelihood is known to
    have its top, so that no direction without end is looked for.
    """
    found = None if is_bounded else endless(X, rows.pull)
    if found is None:
        at = _start(X, rows) if near is None else near
        return _solved((X, rows), at, None)
    kept = ~found.rows
    columns, left = X[kept] @ found.held, rows.some(kept)
    inner = _solved((columns, left), _start(columns, left), found)
    mean = np.where(found.rows & (rows.count > 0), rows.count, 0.0)
    mean[kept] = inner.mean
    return CountSolution(
        estimates=found.held @ inner.estimates,
        covariance=found.held @ inner.covariance @ found.held.T,
        mean=mean,
        deviance=inner.deviance,
        pearson=inner.pearson,
        error_df=inner.error_df,
        endless=found,
    )


def deviance_at(
    X: NDArray[np.float64],
    rows: CountRows,
    held: tuple[NDArray[np.float64], float],
    *,
    near: NDArray[np.float64] | None = None,
    is_bounded: bool = False,
) -> float:
    """Return the lowest deviance with a weighted sum (weights (p,)) held at a value.

    `near` (p,) are estimates of all columns to start from; `is_bounded` says that the fit of
    all of them has its top, and so this one.
    """
    weights, value = held
    pivot = int(np.argmax(np.abs(weights)))
    others = np.delete(np.arange(weights.size), pivot)
    carrier = X[:, pivot] / weights[pivot]
    columns = X[:, others] - np.outer(carrier, weights[others])
    start = None if near is None else near[others]
    moved = rows.moved(carrier * value)
    return count_regression(columns, moved, near=start, is_bounded=is_bounded).deviance


def _solved(
    problem: tuple[NDArray[np.float64], CountRows],
    start: NDArray[np.float64],
    found: Endless | None,
) -> CountSolution:
    X, rows = problem
    estimates, mean = _newton(X, rows, start)
    weights = rows.variance(mean)
    covariance = np.asarray(np.linalg.inv((X.T * weights) @ X), dtype=np.float64)
    pearson = (rows.count - mean) ** 2 / np.maximum(weights, 1e-300)
    return CountSolution(
        estimates=estimates,
        covariance=covariance,
        mean=mean,
        deviance=rows.deviance(mean),
        pearson=float(pearson.sum()),
        error_df=len(rows.count) - X.shape[1],
        endless=found,
    )


def _newton(
    X: NDArray[np.float64], rows: CountRows, start: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return estimates and means; canonical links make the deviance convex."""
    at = start
    mean = rows.mean(X @ at)
    deviance = rows.deviance(mean)
    for _ in range(STEPS):
        if X.shape[1] == 0:
            break
        uphill = X.T @ (rows.count - mean)
        step = np.linalg.solve((X.T * rows.variance(mean)) @ X, uphill)
        gain, size = float(uphill @ step), 1.0
        further = rows.mean(X @ (at + step))
        while rows.deviance(further) > deviance + 1e-13 * (1 + deviance) and size > SMALLEST:
            size /= 2
            further = rows.mean(X @ (at + size * step))
        at, mean, deviance = at + size * step, further, rows.deviance(further)
        if gain < SETTLED * (1 + deviance):
            break
    return at, mean


def _start(X: NDArray[np.float64], rows: CountRows) -> NDArray[np.float64]:
    """Return the least-squares fit of the counts, kept off none and all, on the link scale."""
    if rows.trials is None:
        known = np.maximum(rows.count, 0.1 * max(float(rows.count.mean()), 0.1))
        level, weights = np.log(known), np.sqrt(known)
    else:
        share = (rows.count + 0.5) / (rows.trials + 1)
        level = np.log(share / (1 - share))
        weights = np.sqrt(rows.trials * share * (1 - share))
    target = (level - rows.offset) * weights
    return np.asarray(np.linalg.lstsq(X * weights[:, None], target)[0])
