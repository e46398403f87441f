"""Draws of what grades leave unknown: thresholds and slopes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import expit

from workbench.numerics.log_determinants import weighted_log_dets
from workbench.numerics.posterior_sampling import Guess, in_pieces, sampled

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.numerics.ordered_likelihood import Grades
    from workbench.numerics.proportional_odds import OrderedSolution

CHUNK = 1 << 17
TINY = 1e-300
FURTHEST = 60.0  # logits


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OrderedDraws:
    """Draws of thresholds (n_draws, m) and slopes (n_draws, p)."""

    thresholds: NDArray[np.float64]
    slopes: NDArray[np.float64]
    was_moved: bool

    def __post_init__(self) -> None:
        self.thresholds.setflags(write=False)
        self.slopes.setflags(write=False)


def ordered_draws(
    solution: OrderedSolution, rng: np.random.Generator, *, n_draws: int
) -> OrderedDraws:
    """Return draws from the penalised likelihood taken as a posterior (Jeffreys' prior).

    Thresholds are drawn as the first one and the logarithms of the gaps, so that they stay in
    order.
    """
    data, m = solution.data, solution.data.n_thresholds
    gaps = np.diff(solution.thresholds)
    point = np.concatenate([solution.thresholds[:1], np.log(gaps), solution.slopes])
    root = np.linalg.solve(_turn(gaps, point.size), _root(solution.covariance))
    axes = np.asarray(root, dtype=np.float64)
    density = _density(data)
    found = sampled(density.values, Guess(point=point, axes=axes), rng, n_draws=n_draws)
    return OrderedDraws(
        thresholds=_thresholds(found.points, m),
        slopes=np.asarray(found.points[:, m:]),
        was_moved=found.was_moved,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Density:
    """The likelihood, with the products (n (2m − 1), r²) of rows' ways that information sums.

    Of each row's cumulative logits only neighbours belong together: r = m + p.
    """

    data: Grades
    products: NDArray[np.float64]

    def values(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return log densities (b,) at first threshold, log gaps and slopes (b, m + p)."""
        return in_pieces(self._some, points, CHUNK // max(self.products.shape))

    def _some(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        data, m = self.data, self.data.n_thresholds
        inside = np.asarray((np.abs(points) < FURTHEST).all(axis=1))
        safe = np.where(inside[:, None], points, 0.0)
        parameters = np.hstack([_thresholds(safe, m), safe[:, m:]])
        slopes = parameters[:, m:] @ data.X.T
        logits = parameters[:, None, :m] - slopes[:, :, None]
        chances, density = _chances(logits)
        n = data.grade.size
        own = np.log(chances[:, np.arange(n), data.grade]).sum(axis=1)
        log_det = self._log_informations(chances, density)
        # dθ = e^gap d(log gap): the density of the thresholds, taken to the log gaps.
        jacobian = safe[:, 1:m].sum(axis=1)
        total = own + 0.5 * log_det + jacobian
        return np.where(inside & np.isfinite(total), total, -np.inf)

    def _log_informations(
        self, chances: NDArray[np.float64], density: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Return log determinants (b,) of the expected information Σ over grades of ∇π ∇π′ / π."""
        over = 1 / chances
        own = density**2 * (over[..., :-1] + over[..., 1:])
        side = -density[..., :-1] * density[..., 1:] * over[..., 1:-1]
        weights = np.concatenate([own, side], axis=-1).reshape(len(chances), -1)
        return weighted_log_dets(weights, self.products)


def _density(data: Grades) -> _Density:
    ways = data.ways
    own = ways[..., :, None] * ways[..., None, :]
    side = ways[:, :-1, :, None] * ways[:, 1:, None, :]
    both = np.concatenate([own, side + side.swapaxes(-1, -2)], axis=1)
    return _Density(data=data, products=both.reshape(-1, ways.shape[2] ** 2))


def _chances(
    logits: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    b, n, m = logits.shape
    below, above = np.ones((b, n, m + 2)), np.ones((b, n, m + 2))
    below[..., 0], above[..., -1] = 0.0, 0.0
    below[..., 1:-1], above[..., 1:-1] = expit(logits), expit(-logits)
    low, high = below[..., 1:] - below[..., :-1], above[..., :-1] - above[..., 1:]
    chances = np.maximum(np.where(below[..., 1:] > 0.5, high, low), TINY)
    return chances, below[..., 1:-1] * above[..., 1:-1]


def _thresholds(points: NDArray[np.float64], m: int) -> NDArray[np.float64]:
    gaps = np.exp(points[:, 1:m])
    return np.cumsum(np.hstack([points[:, :1], gaps]), axis=1)


def _turn(gaps: NDArray[np.float64], size: int) -> NDArray[np.float64]:
    """Return d(thresholds, slopes) by d(first, log gaps, slopes)."""
    turn = np.eye(size)
    m = gaps.size + 1
    turn[:m, :m] = np.tril(np.ones((m, m))) * np.append(1.0, gaps)
    return turn


def _root(covariance: NDArray[np.float64]) -> NDArray[np.float64]:
    values, vectors = np.linalg.eigh((covariance + covariance.T) / 2)
    return np.asarray(vectors * np.sqrt(np.maximum(values, 1e-8)))
