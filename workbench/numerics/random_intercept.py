"""One random intercept, by adaptive Gauss-Hermite quadrature, for any likelihood given per row.

Pinheiro and Bates (1995), Journal of Computational and Graphical Statistics 4, 12-35. The rows of
a group share an intercept sd × u, u standard normal. Gradients are posterior means of row scores
(Fisher's identity), so a likelihood brings its own parameters and nothing else is asked of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

import numpy as np
from scipy.optimize import brentq, minimize

from workbench.numerics.profiles import profile_end
from workbench.numerics.spans import Span

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

NODES, WEIGHTS = np.polynomial.hermite_e.hermegauss(25)
LOG_WEIGHTS = np.log(WEIGHTS) + NODES**2 / 2
MODE_STEPS = 50
LARGEST_SD = 12.0
NO_SCATTER = 1e-3  # an intercept's sd below this is zero: no value of a row tells it from zero
STEP = 1e-5  # of the central differences behind the Hessian
POLISHES = 2

Bounds = tuple[float | None, float | None]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RowValues:
    """Log-likelihood of each row (n, q) where q shifts were added to its predictor.

    `slope` and `curvature` (n, q) are its derivatives by the shift, `score` (n, q, k) those by
    the parameters.
    """

    value: NDArray[np.float64]
    slope: NDArray[np.float64]
    curvature: NDArray[np.float64]
    score: NDArray[np.float64]


class RowLikelihood(Protocol):
    """What a kind of outcome brings: its rows at parameters (k,) and shifts (n, q)."""

    def at(self, parameters: NDArray[np.float64], shift: NDArray[np.float64]) -> RowValues:
        """Return value and derivatives of every row."""


class Penalty(Protocol):
    """Something added to the log-likelihood, such as Jeffreys' penalty."""

    def __call__(self, parameters: NDArray[np.float64]) -> Penalised:
        """Return its value and gradient at parameters (k,)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Penalised:
    """A value and its gradient (k,)."""

    value: float
    gradient: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RandomIntercept:
    """The fit: parameters (k,), sd of the intercept, their covariance (k + 1, k + 1), sd last.

    `log_likelihood` includes the penalty, if there is one. Where `sd` is 0 the last row and
    column of the covariance are 0. `modes` (g,) are the groups' intercepts on the predictor's
    scale.
    """

    parameters: NDArray[np.float64]
    sd: float
    covariance: NDArray[np.float64]
    log_likelihood: float
    modes: NDArray[np.float64]
    is_settled: bool

    def __post_init__(self) -> None:
        for array in (self.parameters, self.covariance, self.modes):
            array.setflags(write=False)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Grouping:
    """Which group (n,) each row belongs to, as sums over rows: matrix (g, n) of 0 and 1."""

    of: NDArray[np.intp]
    member: NDArray[np.float64]


def grouping(group: NDArray[np.int64]) -> Grouping:
    """Return the groups behind labels (n,)."""
    labels, of = np.unique(group, return_inverse=True)
    of = of.reshape(-1)
    return Grouping(of=of, member=(of[None, :] == np.arange(labels.size)[:, None]).astype(float))


def marginal(
    rows: RowLikelihood, groups: Grouping, at: tuple[NDArray[np.float64], float]
) -> Penalised:
    """Return the log-likelihood over the intercepts at (parameters (k,), sd), gradient (k + 1,).

    The last element of the gradient is that by the sd.
    """
    parameters, sd = at
    mode, width = _modes(rows, groups, at)
    u = mode[:, None] + width[:, None] * NODES
    found = rows.at(parameters, sd * u[groups.of])
    heights = groups.member @ found.value - u**2 / 2
    logs = LOG_WEIGHTS + heights
    top = logs.max(axis=1, keepdims=True)
    raw = np.exp(logs - top)
    total = raw.sum(axis=1, keepdims=True)
    value = float((top + np.log(total)).sum() + np.log(width).sum())
    share = (raw / total)[groups.of]
    by_parameters = np.einsum("nq,nqk->k", share, found.score)
    by_sd = float((share * found.slope * u[groups.of]).sum())
    return Penalised(
        value=value - mode.size * float(np.log(2 * np.pi)) / 2,
        gradient=np.append(by_parameters, by_sd),
    )


def random_intercept(
    rows: RowLikelihood,
    groups: Grouping,
    start: NDArray[np.float64],
    *,
    penalty: Penalty | None = None,
) -> RandomIntercept:
    """Return the maximum of the (penalised) likelihood over parameters (k,) and sd ≥ 0."""
    whole = _whole(rows, groups, penalty)
    found = [_climbed(whole, np.append(start, sd)) for sd in (0.3, 1.5)]
    none = _held(whole, start, 0.0)
    for _ in range(POLISHES):
        none = _polished(whole, none, np.arange(none.size) < start.size)
    best = max([*found, none], key=lambda point: whole(point).value)
    if best[-1] < NO_SCATTER:
        best = none
    return _described(whole, best, (rows, groups))


def intercept_span(
    rows: RowLikelihood,
    groups: Grouping,
    fit: RandomIntercept,
    *,
    penalty: Penalty | None = None,
    threshold: float,
) -> Span:
    """Return the ends of the intercept's sd within which twice the profile falls by threshold.

    The low end is 0 where no scatter at all is still within it.
    """
    whole = _whole(rows, groups, penalty)

    def fall(sd: float) -> float:
        point = _held(whole, fit.parameters, sd)
        return max(2 * (fit.log_likelihood - whole(point).value), 0.0)

    step = max(fit.sd, 0.3)
    high = profile_end(fall, start=fit.sd, step=step, threshold=threshold)
    if fit.sd == 0 or fall(0.0) <= threshold:
        return Span(low=0.0, high=high)
    return Span(
        low=float(brentq(lambda sd: fall(sd) - threshold, 0.0, fit.sd, xtol=1e-4)), high=high
    )


def _whole(
    rows: RowLikelihood, groups: Grouping, penalty: Penalty | None
) -> Callable[[NDArray[np.float64]], Penalised]:
    """Return the (penalised) likelihood as a function of (parameters, sd) (k + 1,)."""

    def whole(point: NDArray[np.float64]) -> Penalised:
        plain = marginal(rows, groups, (point[:-1], float(abs(point[-1]))))
        gradient = plain.gradient * np.append(np.ones(point.size - 1), np.sign(point[-1]) or 1.0)
        if penalty is None:
            return Penalised(value=plain.value, gradient=gradient)
        more = penalty(point[:-1])
        return Penalised(
            value=plain.value + more.value, gradient=gradient + np.append(more.gradient, 0.0)
        )

    return whole


def _climbed(
    whole: Callable[[NDArray[np.float64]], Penalised], start: NDArray[np.float64]
) -> NDArray[np.float64]:
    bounds: list[Bounds] = [(None, None)] * (start.size - 1)
    point = _searched(whole, start, [*bounds, (0.0, LARGEST_SD)])
    for _ in range(POLISHES):
        if not NO_SCATTER < point[-1] < LARGEST_SD:
            break
        point = _polished(whole, point, np.ones(point.size, dtype=bool))
    return point


def _held(
    whole: Callable[[NDArray[np.float64]], Penalised], start: NDArray[np.float64], sd: float
) -> NDArray[np.float64]:
    """Return the maximum over the parameters with the sd held."""
    bounds: list[Bounds] = [(None, None)] * start.size
    return _searched(whole, np.append(start, sd), [*bounds, (sd, sd)])


def _searched(
    whole: Callable[[NDArray[np.float64]], Penalised],
    start: NDArray[np.float64],
    bounds: list[Bounds],
) -> NDArray[np.float64]:
    def downhill(point: NDArray[np.float64]) -> tuple[float, NDArray[np.float64]]:
        here = whole(point)
        return -here.value, -here.gradient

    found = minimize(
        downhill, start, jac=True, method="L-BFGS-B", bounds=bounds, options={"ftol": 1e-12}
    )
    return np.asarray(found.x, dtype=np.float64)


def _polished(
    whole: Callable[[NDArray[np.float64]], Penalised],
    point: NDArray[np.float64],
    free: NDArray[np.bool_],
) -> NDArray[np.float64]:
    """Return the point after one Newton step over the free elements, if that is uphill."""
    curvature = _curvature(whole, point, free)
    gradient = whole(point).gradient[free]
    values = np.linalg.eigvalsh(curvature)
    if values[0] <= 1e-10 * max(values[-1], 1e-300):
        return point
    moved = point.copy()
    moved[free] += np.linalg.solve(curvature, gradient)
    better = moved[-1] >= 0 and whole(moved).value >= whole(point).value - 1e-10
    return moved if better else point


def _curvature(
    whole: Callable[[NDArray[np.float64]], Penalised],
    point: NDArray[np.float64],
    free: NDArray[np.bool_],
) -> NDArray[np.float64]:
    """Return minus the Hessian over the free elements, by central differences of gradients."""
    places = np.flatnonzero(free)
    columns = []
    for place in places:
        step = np.zeros(point.size)
        step[place] = STEP * max(1.0, abs(point[place]))
        change = whole(point + step).gradient - whole(point - step).gradient
        columns.append(-change[free] / (2 * step[place]))
    whole_matrix = np.array(columns)
    return np.asarray((whole_matrix + whole_matrix.T) / 2)


def _described(
    whole: Callable[[NDArray[np.float64]], Penalised],
    point: NDArray[np.float64],
    model: tuple[RowLikelihood, Grouping],
) -> RandomIntercept:
    rows, groups = model
    here = whole(point)
    free = np.ones(point.size, dtype=bool)
    free[-1] = point[-1] > 0
    curvature = _curvature(whole, point, free)
    values, vectors = np.linalg.eigh(curvature)
    settled = bool(values[0] > 1e-8 * max(values[-1], 1e-300))
    covariance = np.zeros((point.size, point.size))
    safe = np.maximum(values, 1e-8 * max(values[-1], 1e-300))
    covariance[np.ix_(free, free)] = (vectors / safe) @ vectors.T
    modes, _ = _modes(rows, groups, (point[:-1], float(point[-1])))
    decrement = here.gradient[free] @ covariance[np.ix_(free, free)] @ here.gradient[free]
    return RandomIntercept(
        parameters=point[:-1].copy(),
        sd=float(point[-1]),
        covariance=covariance,
        log_likelihood=here.value,
        modes=point[-1] * modes,
        is_settled=settled and float(decrement) < 1e-6,
    )


def _modes(
    rows: RowLikelihood, groups: Grouping, at: tuple[NDArray[np.float64], float]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return where each group's integrand peaks (g,) and its width there (g,), in sds."""
    parameters, sd = at
    u = np.zeros(len(groups.member))
    for _ in range(MODE_STEPS):
        found = rows.at(parameters, sd * u[groups.of, None])
        slope = sd * (groups.member @ found.slope)[:, 0] - u
        curvature = 1 - sd**2 * np.minimum(groups.member @ found.curvature, 0.0)[:, 0]
        step = slope / curvature
        u = u + np.clip(step, -2.0, 2.0)
        if np.abs(step).max() < 1e-10:
            break
    found = rows.at(parameters, sd * u[groups.of, None])
    curvature = 1 - sd**2 * np.minimum(groups.member @ found.curvature, 0.0)[:, 0]
    return u, 1 / np.sqrt(curvature)
