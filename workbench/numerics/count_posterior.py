"""Draws of what counts leave unknown: coefficients, and how much rates scatter."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.numerics.log_determinants import weighted_log_dets
from workbench.numerics.overdispersed import log_chances, weights
from workbench.numerics.posterior_sampling import Guess, sampled

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.numerics.count_tests import CountProblem
    from workbench.numerics.counts import CountRows

CHUNK = 1 << 17
FURTHEST = 14.0  # log odds of the share of scatter beyond which no draw can tell more
MANY = 20  # rows a column from which on Jeffreys' prior is as good as flat, and costs most
FIRST_SPREAD = -1.0  # log odds of that share where the search starts


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CountDraws:
    """Draws of the coefficients (n_draws, p) and of the spread (n_draws,)."""

    coefficients: NDArray[np.float64]
    spread: NDArray[np.float64]
    was_moved: bool

    def __post_init__(self) -> None:
        self.coefficients.setflags(write=False)
        self.spread.setflags(write=False)


def count_draws(problem: CountProblem, rng: np.random.Generator, *, n_draws: int) -> CountDraws:
    """Return draws of the negative-binomial or beta-binomial posterior.

    The prior is Jeffreys' in the coefficients, |X′WX|^½ at the spread, and uniform in the share
    of a count's scatter that is no chance, a m/(1 + a m) at the mean count m (the trials for
    x out of n): the uniform-shrinkage prior of Christiansen and Morris (1997), Journal of the
    American Statistical Association 92, 618-632.
    """
    frame = _framed(problem)
    found = sampled(frame.values, frame.guess, rng, n_draws=n_draws)
    steps = np.linalg.solve(frame.R, found.points[:, :-1].T).T
    return CountDraws(
        coefficients=frame.centre + steps,
        spread=np.exp(found.points[:, -1]) / frame.size,
        was_moved=found.was_moved,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Frame:
    """β = centre + R⁻¹g and spread = eˢ/size at a point (g, s)."""

    Q: NDArray[np.float64]
    pairs: NDArray[np.float64]
    R: NDArray[np.float64]
    centre: NDArray[np.float64]
    start: NDArray[np.float64]
    rows: CountRows
    size: float
    guess: Guess
    is_flat: bool

    def values(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return log posterior densities (m,) at points (m, p + 1)."""
        size = max(1, CHUNK // max(self.Q.size, 1))
        parts = [self._some(points[i : i + size]) for i in range(0, len(points), size)]
        return np.concatenate(parts)

    def _some(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        s = points[:, -1]
        inside = np.abs(s) < FURTHEST
        odds = np.where(inside, s, 0.0)
        spread = (np.exp(odds) / self.size)[:, None]
        link = self.start + points[:, :-1] @ self.Q.T
        inside &= (np.abs(link + self.rows.offset) < 100).all(axis=1)
        link = np.where(inside[:, None], link, self.start)
        value = log_chances(self.rows, link, spread).sum(axis=1)
        total = value + odds - 2 * np.logaddexp(0.0, odds)
        if not self.is_flat:
            weight = weights(self.rows, self.rows.mean(link), spread)
            total = total + 0.5 * weighted_log_dets(weight, self.pairs)
        return np.where(inside & np.isfinite(total), total, -np.inf)


def _framed(problem: CountProblem) -> _Frame:
    Q, R = np.linalg.qr(problem.X)
    p, rows = R.shape[0], problem.rows
    covariance = problem.dispersion * (R @ problem.solution.covariance @ R.T)
    values, vectors = np.linalg.eigh((covariance + covariance.T) / 2)
    axes = np.eye(p + 1)
    axes[:p, :p] = vectors * np.sqrt(np.where(values > 1e-10, values, 1.0))
    size = rows.count if rows.trials is None else rows.trials
    return _Frame(
        Q=Q,
        pairs=(Q[:, :, None] * Q[:, None, :]).reshape(len(Q), -1),
        R=R,
        centre=problem.solution.estimates,
        start=problem.X @ problem.solution.estimates,
        rows=rows,
        size=max(float(size.mean()), 0.1),
        guess=Guess(point=np.append(np.zeros(p), FIRST_SPREAD), axes=axes),
        is_flat=rows.count.size > MANY * p and problem.solution.endless is None,
    )
