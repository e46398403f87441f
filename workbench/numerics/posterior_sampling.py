"""Draws from a posterior that is known up to a constant, for any likelihood of a few parameters.

Importance sampling from a split Student t about the mode, whose two sides of each axis have
scales of their own (Geweke 1989, Econometrica 57, 1317-1339). Where that gives too small an
effective sample the particles are moved to the posterior through tempered ones (Del Moral,
Doucet and Jasra 2006, JRSS B 68, 411-436) by slice steps (Neal 2003, Annals of Statistics 31,
705-767) along differences of other particles (ter Braak 2006, Statistics and Computing 16,
239-249).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

TAIL_DF = 5.0
PROPOSALS = 4  # proposals a draw asked for
ENOUGH = 0.1  # effective share of the proposals that makes resampling good enough
SWEEPS, LAST_SWEEPS, APART = 3, 12, 4
PARTICLES = 2048
WIDTH = 5.0
CLIMBS = 60
REACHES = np.array([0.25, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0])

LogDensity = Callable[[NDArray[np.float64]], NDArray[np.float64]]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sampled:
    """Draws (n_draws, p) in no order; `effective` is the effective size of the proposals.

    `was_moved` if that was too small and slice steps made the draws instead.
    """

    points: NDArray[np.float64]
    effective: float
    was_moved: bool

    def __post_init__(self) -> None:
        self.points.setflags(write=False)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Guess:
    """Where the posterior lies about: a point (p,) and scales (p, p) in columns."""

    point: NDArray[np.float64]
    axes: NDArray[np.float64]


def sampled(
    values: LogDensity, guess: Guess, rng: np.random.Generator, *, n_draws: int
) -> Sampled:
    """Return draws of the posterior with log density `values` (m, p) -> (m,), −inf outside."""
    return drawn_about(values, _climbed(values, guess), rng, n_draws=n_draws)


def drawn_about(
    values: LogDensity, mode: Guess, rng: np.random.Generator, *, n_draws: int
) -> Sampled:
    """Return draws where the mode is known: `mode` is it, with axes from its curvature."""
    proposal = _proposal(values, mode)
    points = proposal.draws(rng, PROPOSALS * n_draws)
    excess = values(points) - proposal.log_densities(points)
    weights = _weights(excess)
    effective = float(1 / (weights @ weights))
    if effective >= ENOUGH * len(points):
        chosen = points[_resampled(rng, weights, n_draws)]
        return Sampled(points=chosen, effective=effective, was_moved=False)
    moved = _moved(values, proposal, rng, n_draws=n_draws)
    return Sampled(points=moved, effective=effective, was_moved=True)


def in_pieces(values: LogDensity, points: NDArray[np.float64], each: int) -> NDArray[np.float64]:
    """Return the log densities (m,) of points (m, p), `each` worked on at once."""
    size = max(1, each)
    return np.concatenate([values(points[i : i + size]) for i in range(0, len(points), size)])


@dataclass(frozen=True, slots=True, eq=False)
class _Proposal:
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


def _climbed(values: LogDensity, guess: Guess) -> Guess:
    """Return the mode with axes from its curvature, both by differences along the axes."""
    at, axes = guess.point, guess.axes
    height = float(values(at[None, :])[0])
    for _ in range(CLIMBS):
        slope, bend = _differences(values, at, axes)
        sizes, turn = np.linalg.eigh(-bend)
        sizes = np.maximum(np.abs(sizes), 1e-3)
        step = turn @ ((turn.T @ slope) / sizes)
        step *= min(1.0, 3.0 / float(np.linalg.norm(step) + 1e-12))
        gain = float(slope @ step)
        tried = at + (0.5 ** np.arange(12))[:, None] * (axes @ step)
        heights = values(tried)
        best = int(np.argmax(heights))
        if gain < 1e-6 or heights[best] <= height:
            return Guess(point=at, axes=axes @ (turn / np.sqrt(np.maximum(sizes, 1e-2))))
        at, height = tried[best], float(heights[best])
    return Guess(point=at, axes=axes)


def _differences(
    values: LogDensity, at: NDArray[np.float64], axes: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return slope (p,) and second derivatives (p, p) along the axes by central differences."""
    p, size = at.size, 1e-2
    one = size * np.eye(p)
    first, second = np.triu_indices(p, 1)
    pairs = one[first] + one[second]
    steps = np.vstack([np.zeros((1, p)), one, -one, pairs, -pairs])
    found = values(at + steps @ axes.T)
    up, down = found[1 : p + 1], found[p + 1 : 2 * p + 1]
    both = found[2 * p + 1 : 2 * p + 1 + first.size] + found[2 * p + 1 + first.size :]
    bend = np.diag(up + down - 2 * found[0])
    cross = (both - (up + down)[first] - (up + down)[second] + 2 * found[0]) / 2
    bend[first, second] = cross
    bend[second, first] = cross
    safe = np.isfinite(bend).all()
    return (up - down) / (2 * size), bend / size**2 if safe else -np.eye(p)


def _proposal(values: LogDensity, mode: Guess) -> _Proposal:
    """Return the split t: each side's scale is the largest that any reach along it asks for."""
    height = float(values(mode.point[None, :])[0])
    scales = []
    for sign in (-1.0, 1.0):
        steps = (sign * REACHES[:, None, None] * mode.axes.T).reshape(-1, mode.point.size)
        fall = (height - values(mode.point + steps)).reshape(REACHES.size, -1)
        asked = REACHES[:, None] / np.sqrt(2 * np.clip(fall, 1e-3, 1e6))
        scales.append(np.clip(asked.max(axis=0), 0.5, 8.0))
    return _Proposal(mode.point, mode.axes, scales[0], scales[1])


def _moved(
    values: LogDensity, proposal: _Proposal, rng: np.random.Generator, *, n_draws: int
) -> NDArray[np.float64]:
    n = min(n_draws, PARTICLES)
    points = proposal.draws(rng, PROPOSALS * n)
    excess = values(points) - proposal.log_densities(points)
    heat = 0.0
    while heat < 1.0:
        step = _next_step(excess, 1.0 - heat)
        heat = min(1.0, heat + step)
        points = points[_resampled(rng, _weights(step * excess), n)]
        points = _swept(_tempered(values, proposal, heat), points, (SWEEPS, rng))
        excess = values(points) - proposal.log_densities(points)
    kept = [_swept(values, points, (LAST_SWEEPS, rng))]
    while len(kept) * n < n_draws:
        kept.append(_swept(values, kept[-1], (APART, rng)))
    return np.concatenate(kept)[:n_draws]


def _tempered(values: LogDensity, proposal: _Proposal, heat: float) -> LogDensity:
    def between(points: NDArray[np.float64]) -> NDArray[np.float64]:
        return heat * values(points) + (1 - heat) * proposal.log_densities(points)

    return values if heat == 1.0 else between


def _swept(
    values: LogDensity, points: NDArray[np.float64], how: tuple[int, np.random.Generator]
) -> NDArray[np.float64]:
    n_sweeps, rng = how
    for _ in range(n_sweeps):
        points = _slice_sweep(values, points, rng)
    return points


def _slice_sweep(
    values: LogDensity, points: NDArray[np.float64], rng: np.random.Generator
) -> NDArray[np.float64]:
    """Return every point moved along a difference of two others, by shrinking slices."""
    n = len(points)
    order = rng.permutation(n)
    direction = (points[np.roll(order, 1)] - points[np.roll(order, 2)])[np.argsort(order)]
    level = values(points) - rng.exponential(size=n)
    low = -WIDTH * rng.random(n)
    high = low + WIDTH
    result = points.copy()
    waiting = np.flatnonzero((direction != 0).any(axis=1))
    for _ in range(12):
        if waiting.size == 0:
            break
        place = low[waiting] + (high[waiting] - low[waiting]) * rng.random(waiting.size)
        tried = points[waiting] + place[:, None] * direction[waiting]
        fine = values(tried) >= level[waiting]
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
    raw = np.exp(np.where(np.isfinite(logs), logs, -np.inf) - logs[np.isfinite(logs)].max())
    return np.asarray(raw / raw.sum())


def _resampled(rng: np.random.Generator, weights: NDArray[np.float64], n: int) -> NDArray[np.intp]:
    """Return places (n,) by systematic resampling, shuffled."""
    edges = np.cumsum(weights)
    places = np.searchsorted(edges, (rng.random() + np.arange(n)) / n * edges[-1])
    return rng.permutation(np.minimum(places, weights.size - 1))
