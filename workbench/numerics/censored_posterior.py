"""Draws of what censored readings leave unknown: coefficients and scale."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.numerics.location_scale import between_rows, log_density
from workbench.numerics.log_determinants import weighted_log_dets
from workbench.numerics.posterior_sampling import Guess, sampled

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.numerics.censored import Rows
    from workbench.numerics.censored_profile import CensoredProblem

CHUNK = 1 << 17
WIDEST = 8.0  # log of the scale over its estimate: beyond it no draw can lie


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CensoredDraws:
    """Draws of the coefficients (n_draws, p) and of sigma (n_draws,)."""

    coefficients: NDArray[np.float64]
    sigma: NDArray[np.float64]
    was_moved: bool

    def __post_init__(self) -> None:
        self.coefficients.setflags(write=False)
        self.sigma.setflags(write=False)


def censored_draws(
    problem: CensoredProblem, rng: np.random.Generator, *, n_draws: int
) -> CensoredDraws:
    """Return draws of the posterior under the prior |Σ w x x′|^½ in (β, log σ).

    w is 1 for rows that hold the fit and the curvature (0 to 1) of the log chance of open ones,
    so that with nothing cut off this is the reference prior 1/σ and the posterior is Student's t
    (Box and Tiao 1973, section 2.7); where a likelihood rises for ever the prior falls, as
    Jeffreys' does, and keeps the posterior proper.
    """
    frame = _framed(problem)
    found = sampled(frame.values, frame.guess, rng, n_draws=n_draws)
    steps = problem.solution.sigma * np.linalg.solve(frame.R, found.points[:, :-1].T).T
    return CensoredDraws(
        coefficients=problem.solution.estimates + steps,
        sigma=problem.solution.sigma * np.exp(found.points[:, -1]),
        was_moved=found.was_moved,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Frame:
    """Rows less their fit over sigma: β = β̂ + σ̂ R⁻¹g and σ = σ̂ eᵗ at a point (g, t)."""

    Q: NDArray[np.float64]
    pairs: NDArray[np.float64]
    R: NDArray[np.float64]
    exact: NDArray[np.bool_]
    rows: Rows
    family: str
    guess: Guess

    def values(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return log posterior densities (m,) at points (m, p + 1)."""
        size = max(1, CHUNK // max(self.Q.size * 4, 1))
        parts = [self._some(points[i : i + size]) for i in range(0, len(points), size)]
        return np.concatenate(parts)

    def _some(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        inside = np.abs(points[:, -1]) < WIDEST
        t = np.where(inside, points[:, -1], 0.0)[:, None]
        shift = points[:, :-1] @ self.Q.T
        shrink = np.exp(-t)
        exact, open_ = self.exact, ~self.exact
        known = log_density((self.rows.low[exact] - shift[:, exact]) * shrink, self.family)
        low = (self.rows.low[open_] - shift[:, open_]) * shrink
        high = (self.rows.high[open_] - shift[:, open_]) * shrink
        between = between_rows(low, high, self.family)
        value = known.sum(axis=1) - exact.sum() * t[:, 0] + between.value.sum(axis=1)
        weight = np.ones((len(points), exact.size))
        curvature = -(between.low_low + between.high_high + 2 * between.low_high)
        pulled = self.rows.pull[open_] != 0
        weight[:, open_] = np.where(pulled, np.clip(curvature, 0.0, 1.0), 1.0)
        total = value + 0.5 * weighted_log_dets(weight, self.pairs)
        fine = inside & np.isfinite(total)
        return np.where(fine, total, -np.inf)


def _framed(problem: CensoredProblem) -> _Frame:
    solution = problem.solution
    Q, R = np.linalg.qr(problem.X)
    shifted = problem.rows.less(problem.X @ solution.estimates)
    p = R.shape[0]
    turn = np.eye(p + 1)
    turn[:p, :p] = R / solution.sigma
    covariance = turn @ solution.covariance @ turn.T
    values, vectors = np.linalg.eigh((covariance + covariance.T) / 2)
    # Directions without an estimate have no variance here; a unit of sigma starts the search.
    scales = np.sqrt(np.where(values > 1e-10, values, 1.0))
    return _Frame(
        Q=Q,
        pairs=(Q[:, :, None] * Q[:, None, :]).reshape(len(Q), -1),
        R=R,
        exact=problem.rows.exact,
        rows=shifted.over(solution.sigma),
        family=problem.family,
        guess=Guess(point=np.zeros(p + 1), axes=vectors * scales),
    )
