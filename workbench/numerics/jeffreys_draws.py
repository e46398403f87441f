"""Draws from the Jeffreys-penalised likelihood of a logistic regression taken as a posterior.

Importance sampling from a split Student t about the mode, whose two sides of each axis have
scales of their own (Geweke 1989, Econometrica 57, 1317-1339), since few failures make it lean.
Where that gives too small an effective sample the particles are moved towards the posterior
through a sequence of tempered ones (Del Moral, Doucet and Jasra 2006, Journal of the Royal
Statistical Society B 68, 411-436) with slice steps (Neal 2003, Annals of Statistics 31, 705-767).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.numerics.pass_counts import penalised_values, slopes

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.numerics.pass_counts import PassCounts
    from workbench.numerics.penalised_logistic import PenalisedLogistic

TAIL_DF = 5.0
PROPOSALS = 4  # proposals a draw asked for
ENOUGH = 0.1  # effective share of the proposals that makes resampling good enough
SWEEPS = 3  # sweeps of slice steps after each tempering
LAST_SWEEPS = 24  # and at the posterior itself
APART = 4  # sweeps between two sets of particles that are both kept
PARTICLES = 4096  # moved at once; more draws come from further sweeps of the same particles
WIDTH = 10.0  # first slice, in differences of two particles
CHUNK = 1 << 21  # numbers in one evaluation
REACHES = np.array([0.25, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PosteriorDraws:
    """Draws (n_draws, p); `effective` is the effective sample size of the importance weights.

    `was_moved` if that was too small, and the draws were moved by slice steps instead.
    """

    coefficients: NDArray[np.float64]
    effective: float
    was_moved: bool

    def __post_init__(self) -> None:
        self.coefficients.setflags(write=False)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Proposal:
    """Split Student t: mode (p,), axes (p, p) in columns, scales below and above the mode (p,)."""

    mode: NDArray[np.float64]
    axes: NDArray[np.float64]
    below: NDArray[np.float64]
    above: NDArray[np.float64]

    def draws(self, rng: np.random.Generator, n: int) -> NDArray[np.float64]:
        """Return draws (n, p)."""
        normal = np.abs(rng.standard_normal((n, self.mode.size)))
        upper = rng.random((n, self.mode.size)) < self.above / (self.below + self.above)
        stretch = np.sqrt(TAIL_DF / rng.chisquare(TAIL_DF, n))[:, None]
        along = stretch * normal * np.where(upper, self.above, -self.below)
        return np.asarray(self.mode + along @ self.axes.T)

    def log_densities(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return log densities (n,), up to a constant."""
        along = np.linalg.solve(self.axes, (points - self.mode).T).T
        scaled = along / np.where(along > 0, self.above, self.below)
        power = (TAIL_DF + self.mode.size) / 2
        return np.asarray(-power * np.log1p((scaled**2).sum(axis=1) / TAIL_DF))


def posterior_draws(
    fit: PenalisedLogistic, rng: np.random.Generator, *, n_draws: int
) -> PosteriorDraws:
    """Return draws (n_draws, p) of the coefficients, exchangeable in their order."""
    proposal = _proposal(fit)
    points = proposal.draws(rng, PROPOSALS * n_draws)
    reference = proposal.log_densities(points)
    excess = _values(fit.counts, points) - reference
    weights = _weights(excess)
    effective = float(1 / (weights @ weights))
    if effective >= ENOUGH * len(points):
        chosen = points[_resampled(rng, weights, n_draws)]
        return PosteriorDraws(coefficients=chosen, effective=effective, was_moved=False)
    moved = _moved(fit, proposal, rng, n_draws=n_draws)
    return PosteriorDraws(coefficients=moved, effective=effective, was_moved=True)


def _proposal(fit: PenalisedLogistic) -> _Proposal:
    """Return the split t: each side's scale is the largest that any reach along it asks for."""
    hessian = slopes(fit.counts, fit.estimates[None, :]).hessian[0]
    values, vectors = np.linalg.eigh(-hessian)
    axes = vectors / np.sqrt(np.maximum(values, 1e-3 * values.max()))
    scales = []
    for sign in (-1.0, 1.0):
        steps = (sign * REACHES[:, None, None] * axes.T).reshape(-1, axes.shape[0])
        fall = fit.penalised_log_likelihood - _values(fit.counts, fit.estimates + steps)
        fall = fall.reshape(REACHES.size, -1)
        asked = REACHES[:, None] / np.sqrt(2 * np.maximum(fall, 1e-3))
        scales.append(np.clip(asked.max(axis=0), 0.5, 8.0))
    return _Proposal(mode=fit.estimates, axes=axes, below=scales[0], above=scales[1])


def _moved(
    fit: PenalisedLogistic, proposal: _Proposal, rng: np.random.Generator, *, n_draws: int
) -> NDArray[np.float64]:
    """Return draws (n_draws, p) led from the proposal to the posterior in tempered steps."""
    points = proposal.draws(rng, PROPOSALS * min(n_draws, PARTICLES))
    excess = _values(fit.counts, points) - proposal.log_densities(points)
    heat, n = 0.0, min(n_draws, PARTICLES)
    while heat < 1.0:
        step = _next_step(excess, 1.0 - heat)
        heat = min(1.0, heat + step)
        points = points[_resampled(rng, _weights(step * excess), n)]
        points = _swept(_Tempered(fit.counts, proposal, heat), points, (SWEEPS, rng))
        excess = _values(fit.counts, points) - proposal.log_densities(points)
    target = _Tempered(fit.counts, proposal, 1.0)
    kept = [_swept(target, points, (LAST_SWEEPS, rng))]
    while len(kept) * n < n_draws:
        kept.append(_swept(target, kept[-1], (APART, rng)))
    return np.concatenate(kept)[:n_draws]


@dataclass(frozen=True, slots=True, eq=False)
class _Tempered:
    counts: PassCounts
    proposal: _Proposal
    heat: float

    def values(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return log densities (n,)."""
        known = self.heat * _values(self.counts, points)
        if self.heat == 1.0:
            return known
        return known + (1 - self.heat) * self.proposal.log_densities(points)


def _swept(
    target: _Tempered, points: NDArray[np.float64], how: tuple[int, np.random.Generator]
) -> NDArray[np.float64]:
    """Return the points after a number of slice sweeps."""
    n_sweeps, rng = how
    for _ in range(n_sweeps):
        points = _slice_sweep(target, points, rng)
    return points


def _slice_sweep(
    target: _Tempered, points: NDArray[np.float64], rng: np.random.Generator
) -> NDArray[np.float64]:
    """Return every point (n, p) moved along a difference of two others, by shrinking slices.

    Directions from other particles follow the posterior's own shape (ter Braak 2006, Statistics
    and Computing 16, 239-249).
    """
    n = len(points)
    order = rng.permutation(n)
    direction = points[np.roll(order, 1)] - points[np.roll(order, 2)]
    direction = direction[np.argsort(order)]
    level = target.values(points) - rng.exponential(size=n)
    low = -WIDTH * rng.random(n)
    high = low + WIDTH
    result = points.copy()
    waiting = np.flatnonzero((direction != 0).any(axis=1))
    for _ in range(12):
        if waiting.size == 0:
            break
        place = low[waiting] + (high[waiting] - low[waiting]) * rng.random(waiting.size)
        tried = points[waiting] + place[:, None] * direction[waiting]
        fine = target.values(tried) >= level[waiting]
        result[waiting[fine]] = tried[fine]
        low[waiting] = np.where(place < 0, place, low[waiting])
        high[waiting] = np.where(place < 0, high[waiting], place)
        waiting = waiting[~fine]
    return result


def _next_step(excess: NDArray[np.float64], left: float) -> float:
    """Return the largest step of the temperature that keeps half the particles effective."""

    def share(step: float) -> float:
        weights = _weights(step * excess)
        return float(1 / (weights @ weights)) / excess.size

    if share(left) >= 0.5:
        return left
    low, high = 0.0, left
    for _ in range(30):
        middle = (low + high) / 2
        low, high = (middle, high) if share(middle) >= 0.5 else (low, middle)
    return max(low, 1e-3)


def _weights(logs: NDArray[np.float64]) -> NDArray[np.float64]:
    raw = np.exp(logs - logs.max())
    return np.asarray(raw / raw.sum())


def _resampled(rng: np.random.Generator, weights: NDArray[np.float64], n: int) -> NDArray[np.intp]:
    """Return places (n,) by systematic resampling, shuffled."""
    edges = np.cumsum(weights)
    places = np.searchsorted(edges, (rng.random() + np.arange(n)) / n * edges[-1])
    return rng.permutation(np.minimum(places, weights.size - 1))


def _values(counts: PassCounts, points: NDArray[np.float64]) -> NDArray[np.float64]:
    n_rows, n_columns = counts.X.shape
    size = max(1, CHUNK // max(n_rows, n_columns**2))
    parts = [
        penalised_values(counts, points[start : start + size])
        for start in range(0, len(points), size)
    ]
    return np.concatenate(parts)
