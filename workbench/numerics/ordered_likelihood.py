"""Likelihood of ordered grades under proportional odds, with the Jeffreys-type penalty.

logit P(grade ≤ k) = threshold k − x′β (McCullagh 1980, JRSS B 42, 109-142), plus half the log
determinant of the expected information on thresholds and slopes (Firth 1993, Biometrika 80,
27-38). With two grades it is Firth's logistic regression.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import expit

if TYPE_CHECKING:
    from numpy.typing import NDArray

TINY = 1e-300


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Grades:
    """Grades (n,), counted from 0 without gaps, of rows with columns X (n, p) and no constant.

    `ways` (n, m, m + p) is the derivative of each row's m cumulative logits by the thresholds
    and slopes, m being one less than the number of grades; `steps` (m + 1, m) takes the
    differences of cumulative chances.
    """

    X: NDArray[np.float64]
    grade: NDArray[np.int64]
    ways: NDArray[np.float64]
    steps: NDArray[np.float64]

    @property
    def n_thresholds(self) -> int:
        """One less than the number of grades."""
        return int(self.ways.shape[1])


def grades(X: NDArray[np.float64], grade: NDArray[np.int64]) -> Grades:
    """Return the grades with what the likelihood needs of them."""
    n, p = X.shape
    m = int(grade.max())
    ways = np.zeros((n, m, m + p))
    ways[:, np.arange(m), np.arange(m)] = 1.0
    ways[:, :, m:] = -X[:, None, :]
    edge = np.zeros((1, m))
    steps = np.vstack([np.eye(m), edge]) - np.vstack([edge, np.eye(m)])
    return Grades(X=X, grade=grade, ways=ways, steps=steps)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OrderedPoint:
    """What is known at thresholds and slopes (m + p,), `value` being the penalised likelihood.

    `chances` (n, m + 1) are those of each grade, `below` (n, m) cumulative ones, `information`
    (m + p, m + p) the expected one.
    """

    parameters: NDArray[np.float64]
    chances: NDArray[np.float64]
    below: NDArray[np.float64]
    own: NDArray[np.float64]
    information: NDArray[np.float64]
    log_likelihood: float
    value: float


def point(data: Grades, parameters: NDArray[np.float64], *, weight: float) -> OrderedPoint:
    """Return log-likelihood + weight × half log determinant of the information.

    −inf where the thresholds are not in order.
    """
    m = data.n_thresholds
    chances, below = _chances(data, parameters)
    own = chances[np.arange(len(chances)), data.grade]
    in_order = m == 1 or bool((parameters[1:m] > parameters[: m - 1]).all())
    plain = float(np.log(own).sum()) if in_order else -np.inf
    information = _information(data, _weights(chances, below))
    sign, log_det = np.linalg.slogdet(information) if in_order and weight else (1.0, 0.0)
    return OrderedPoint(
        parameters=parameters,
        chances=chances,
        below=below,
        own=own,
        information=information,
        log_likelihood=plain,
        value=plain + 0.5 * weight * float(log_det) if sign > 0 else -np.inf,
    )


def slope(data: Grades, here: OrderedPoint, *, weight: float) -> NDArray[np.float64]:
    """Return the derivative (m + p,) of the penalised log-likelihood."""
    upper, lower = _ends(data, here)
    by_logit = upper - lower
    if weight:
        by_logit = by_logit + weight * _penalty_slope(data, here)
    return np.asarray(by_logit.ravel() @ data.ways.reshape(-1, data.ways.shape[2]))


def observed_information(data: Grades, here: OrderedPoint) -> NDArray[np.float64]:
    """Return minus the second derivatives (m + p, m + p) of the plain log-likelihood."""
    upper, lower = _ends(data, here)
    n, m = upper.shape
    tilt = 1 - 2 * here.below
    weights = np.zeros((n, m, m))
    at = np.arange(m)
    weights[:, at, at] = upper**2 - tilt * upper + lower**2 + tilt * lower
    side = -lower[:, :-1] * upper[:, 1:]
    weights[:, at[:-1], at[1:]] = side
    weights[:, at[1:], at[:-1]] = side
    return _information(data, weights)


def _ends(data: Grades, here: OrderedPoint) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return density over chance (n, m) at the upper and lower end of each row's grade."""
    density = here.below * (1 - here.below) / here.own[:, None]
    at = np.arange(data.n_thresholds)
    grade = data.grade[:, None]
    return density * (at == grade), density * (at == grade - 1)


def grade_chances(
    thresholds: NDArray[np.float64], location: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the chance of each grade (…, m + 1) at thresholds (…, m) and x′β (…)."""
    below = expit(thresholds - location[..., None])
    edge = np.zeros((*below.shape[:-1], 1))
    return np.asarray(np.diff(np.concatenate([edge, below, edge + 1], axis=-1), axis=-1))


def _chances(
    data: Grades, parameters: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    m = data.n_thresholds
    logits = data.ways @ parameters
    n = len(logits)
    below, above = np.ones((n, m + 2)), np.ones((n, m + 2))
    below[:, 0], above[:, -1] = 0.0, 0.0
    below[:, 1:-1], above[:, 1:-1] = expit(logits), expit(-logits)
    # F(b) − F(a) from the tail in which both are small, or digits are lost.
    low, high = below[:, 1:] - below[:, :-1], above[:, :-1] - above[:, 1:]
    chances = np.where(below[:, 1:] > 0.5, high, low)
    return np.maximum(chances, TINY), below[:, 1:-1]


def _weights(chances: NDArray[np.float64], below: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the information (n, m, m) on the cumulative logits: three diagonals."""
    n, m = below.shape
    density, rest = below * (1 - below), 1 / chances
    found = np.zeros((n, m, m))
    at = np.arange(m)
    found[:, at, at] = density**2 * (rest[:, :-1] + rest[:, 1:])
    side = -density[:, :-1] * density[:, 1:] * rest[:, 1:-1]
    found[:, at[:-1], at[1:]] = side
    found[:, at[1:], at[:-1]] = side
    return found


def _information(data: Grades, weights: NDArray[np.float64]) -> NDArray[np.float64]:
    size = data.ways.shape[2]
    half = (weights @ data.ways).reshape(-1, size)
    return np.asarray(data.ways.reshape(-1, size).T @ half)


def _penalty_slope(data: Grades, here: OrderedPoint) -> NDArray[np.float64]:
    """Return ½ tr(I⁻¹ dI) by each cumulative logit (n, m) of each row.

    The information on a row's logits is diag(f) D′ diag(1/chance) D diag(f), D taking differences
    of cumulative chances, f = F(1 − F).
    """
    density = here.below * (1 - here.below)
    bend = density * (1 - 2 * here.below)
    steps, rest = data.steps, 1 / here.chances
    spread = data.ways @ np.linalg.inv(here.information) @ data.ways.transpose(0, 2, 1)
    joint = steps.T @ (rest[:, :, None] * steps)
    direct = 2 * bend * ((joint * spread) @ density[:, :, None])[:, :, 0]
    scaled = density[:, :, None] * spread * density[:, None, :]
    own = ((steps @ scaled) * steps).sum(axis=2)
    through = -((rest**2 * own) @ steps) * density
    return np.asarray(0.5 * (direct + through))
