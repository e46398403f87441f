"""Regression of censored readings by maximum likelihood: location x′β, one scale sigma.

The likelihood is maximised in (β/σ, 1/σ), where it is concave for exact, open-ended and interval
rows alike (Olsen 1978, Econometrica 46, 1211-1215; Burridge 1981, JRSS B 43, 41-45), so Newton
steps that are halved until the likelihood rises reach the maximum from any start.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import linprog

from workbench.errors import Unavailable
from workbench.numerics.endless import endless
from workbench.numerics.location_scale import between_rows, exact_rows

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.numerics.endless import Endless
    from workbench.numerics.location_scale import RowLikelihood

STEPS, HALVINGS = 80, 40
DECREMENT = 1e-14  # of the log-likelihood; the step it is measured for is still taken
ROUNDING = 1e-13  # of the largest reading
EXACT = 1e-9  # misfit over spread below which readings lie on the model itself


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rows:
    """Readings (n,) known to lie from `low` to `high`: equal ends are exact, ±inf open."""

    low: NDArray[np.float64]
    high: NDArray[np.float64]

    def __post_init__(self) -> None:
        self.low.setflags(write=False)
        self.high.setflags(write=False)

    @property
    def exact(self) -> NDArray[np.bool_]:
        """Rows that were read."""
        return np.asarray(self.low == self.high)

    @property
    def pull(self) -> NDArray[np.int64]:
        """0 for exact and interval rows, +1 where only a low end is known, −1 a high one."""
        up, down = np.isposinf(self.high), np.isneginf(self.low)
        return np.asarray(up.astype(np.int64) - down.astype(np.int64))

    @property
    def n_held(self) -> int:
        """Readings that are exact or lie between two ends."""
        return int((self.pull == 0).sum())

    @property
    def information(self) -> float:
        """Readings that count in small samples, h = (n + u)/2 with u = `n_held`."""
        return (self.low.size + self.n_held) / 2

    def less(self, shift: NDArray[np.float64]) -> Rows:
        """Return the rows with shift (n,) taken off."""
        return Rows(low=self.low - shift, high=self.high - shift)

    def over(self, unit: float) -> Rows:
        """Return the rows divided by a unit above zero."""
        return Rows(low=self.low / unit, high=self.high / unit)

    def some(self, chosen: NDArray[np.bool_]) -> Rows:
        """Return the chosen rows."""
        return Rows(low=self.low[chosen], high=self.high[chosen])

    def middle(self) -> NDArray[np.float64]:
        """Return the reading, the middle of two ends, or the one end that is known (n,)."""
        low = np.where(np.isneginf(self.low), self.high, self.low)
        high = np.where(np.isposinf(self.high), self.low, self.high)
        return np.asarray((low + high) / 2)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CensoredSolution:
    """Estimates (p,) and log sigma, with their covariance (p + 1, p + 1), log sigma last.

    Where the likelihood rises for ever (`endless`) its least upper bound is meant; estimates are
    then the part that the other rows hold, of which only finite sums have a meaning.
    """

    estimates: NDArray[np.float64]
    log_sigma: float
    covariance: NDArray[np.float64]
    log_likelihood: float
    endless: Endless | None

    def __post_init__(self) -> None:
        self.estimates.setflags(write=False)
        self.covariance.setflags(write=False)

    @property
    def sigma(self) -> float:
        """The maximum-likelihood scale, which is low in small samples."""
        return float(np.exp(self.log_sigma))

    def is_finite(self, weights: NDArray[np.float64]) -> bool:
        """Return whether a weighted sum of coefficients has an estimate."""
        return self.endless is None or self.endless.is_finite(weights)


def censored(X: NDArray[np.float64], rows: Rows, *, family: str) -> CensoredSolution | Unavailable:
    """Return the maximum-likelihood fit of the columns X (n, p), independent, to the rows."""
    if rows.n_held == 0:
        return Unavailable(
            reason="every reading is cut off, so neither a level nor a scatter can be estimated; "
            "use a gauge that reaches, or stop the test later"
        )
    found = endless(X, rows.pull)
    held = slice(None) if found is None else ~found.rows
    span = np.eye(X.shape[1]) if found is None else found.held
    left = rows if found is None else rows.some(~found.rows)
    columns = X[held] @ span
    if _lies_on_model(columns, left):
        return Unavailable(
            reason="the model can meet every reading exactly, so no scatter is left to estimate; "
            "ask for fewer terms or add readings that are not cut off"
        )
    solved = _maximised(columns, left, family)
    if isinstance(solved, Unavailable):
        return solved
    whole = np.eye(span.shape[1] + 1)
    taken = np.block(
        [[span, np.zeros((len(span), 1))], [np.zeros((1, span.shape[1])), whole[-1:, -1:]]]
    )
    return CensoredSolution(
        estimates=span @ solved.estimates,
        log_sigma=solved.log_sigma,
        covariance=taken @ solved.covariance @ taken.T,
        log_likelihood=solved.log_likelihood,
        endless=found,
    )


@dataclass(frozen=True, slots=True)
class _Point:
    """Log-likelihood at φ = (γ, θ), with its rows: exact ones and those between ends."""

    phi: NDArray[np.float64]
    value: float
    parts: tuple[RowLikelihood, RowLikelihood]


@dataclass(frozen=True, slots=True)
class _Problem:
    """Rows taken apart: z = θ × end − Qγ, so its derivative by φ is (−Q, end)."""

    family: str
    exact: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    open_low: NDArray[np.bool_]
    open_high: NDArray[np.bool_]

    def at(self, phi: NDArray[np.float64]) -> _Point:
        exact = exact_rows(self.exact @ phi, self.family)
        low = np.where(self.open_low, -np.inf, self.low @ phi)
        between = between_rows(low, np.where(self.open_high, np.inf, self.high @ phi), self.family)
        value = exact.value.sum() + between.value.sum() + len(self.exact) * np.log(phi[-1])
        return _Point(phi, float(value), (exact, between))

    def slope(self, point: _Point) -> NDArray[np.float64]:
        exact, between = point.parts
        slope = self.exact.T @ exact.by_high
        slope += self.low.T @ between.by_low + self.high.T @ between.by_high
        slope[-1] += len(self.exact) / point.phi[-1]
        return np.asarray(slope)

    def information(self, point: _Point) -> NDArray[np.float64]:
        exact, between = point.parts
        bend = (self.exact.T * exact.high_high) @ self.exact
        bend += (self.low.T * between.low_low) @ self.low
        bend += (self.high.T * between.high_high) @ self.high
        cross = (self.low.T * between.low_high) @ self.high
        bend += cross + cross.T
        bend[-1, -1] -= len(self.exact) / point.phi[-1] ** 2
        return np.asarray(-bend)


@dataclass(frozen=True, slots=True)
class _Solved:
    estimates: NDArray[np.float64]
    log_sigma: float
    covariance: NDArray[np.float64]
    log_likelihood: float


def _maximised(X: NDArray[np.float64], rows: Rows, family: str) -> _Solved | Unavailable:
    middle = rows.middle()
    Q, R = np.linalg.qr(X)
    start = Q.T @ middle
    shifted = rows.less(Q @ start)
    crude = float(np.sqrt(np.mean((middle - Q @ start) ** 2)))
    unit = crude or float(np.ptp(middle)) or 1.0
    problem = _problem(Q, shifted, (unit, family))
    phi = _newton(problem, np.append(np.zeros(Q.shape[1]), 1.0))
    if phi is None:
        return Unavailable(
            reason="the likelihood has no maximum that could be found; the readings that are not "
            "cut off are too few for these terms"
        )
    return _in_readings(problem, phi, _Frame(R, start, unit))


@dataclass(frozen=True, slots=True)
class _Frame:
    R: NDArray[np.float64]
    start: NDArray[np.float64]
    unit: float


def _problem(Q: NDArray[np.float64], rows: Rows, how: tuple[float, str]) -> _Problem:
    unit, family = how
    exact = rows.exact
    low, high = rows.low[~exact] / unit, rows.high[~exact] / unit
    open_low, open_high = np.isneginf(low), np.isposinf(high)
    return _Problem(
        family=family,
        exact=np.column_stack([-Q[exact], rows.low[exact] / unit]),
        low=np.column_stack([-Q[~exact], np.where(open_low, 0.0, low)]),
        high=np.column_stack([-Q[~exact], np.where(open_high, 0.0, high)]),
        open_low=open_low,
        open_high=open_high,
    )


def _newton(problem: _Problem, phi: NDArray[np.float64]) -> NDArray[np.float64] | None:
    point = problem.at(phi)
    for _ in range(STEPS):
        slope, information = problem.slope(point), problem.information(point)
        try:
            step = np.asarray(np.linalg.solve(information, slope), dtype=np.float64)
        except np.linalg.LinAlgError:
            return None
        gain = float(slope @ step)
        if not np.isfinite(gain) or gain < 0:
            return None
        further = _halved(problem, point, step)
        if gain < DECREMENT:
            return point.phi if further is None else further.phi
        if further is None:
            # Rounding of the likelihood, not its shape, ends the climb.
            return point.phi if gain < 1e-8 else None
        point = further
    return None


def _halved(problem: _Problem, point: _Point, step: NDArray[np.float64]) -> _Point | None:
    size = 1.0
    for _ in range(HALVINGS):
        phi = point.phi + size * step
        if phi[-1] > 0:
            further = problem.at(phi)
            if further.value >= point.value:
                return further
        size /= 2
    return None


def _in_readings(problem: _Problem, phi: NDArray[np.float64], frame: _Frame) -> _Solved:
    """Return the maximum in the unit of the readings: β = R⁻¹(start + unit γ/θ), σ = unit/θ."""
    point, q = problem.at(phi), phi.size - 1
    theta, gamma = float(phi[-1]), phi[:-1] / phi[-1]
    # γ = θ b and θ = e^−τ: derivatives of (γ, θ) by (b, τ) carry the information over.
    turn = np.zeros((q + 1, q + 1))
    turn[:q, :q] = theta * np.eye(q)
    turn[:q, q], turn[q, q] = -theta * gamma, -theta
    information = turn.T @ problem.information(point) @ turn
    back = np.eye(q + 1)
    back[:q, :q] = frame.unit * np.linalg.inv(frame.R)
    return _Solved(
        estimates=np.linalg.solve(frame.R, frame.start + frame.unit * gamma),
        log_sigma=float(np.log(frame.unit) - np.log(theta)),
        covariance=back @ np.linalg.inv(information) @ back.T,
        log_likelihood=point.value - len(problem.exact) * float(np.log(frame.unit)),
    )


def _lies_on_model(X: NDArray[np.float64], rows: Rows) -> bool:
    """Return whether some β meets every exact reading and lies between all ends.

    Then the likelihood rises for ever as sigma falls to 0.
    """
    exact = rows.exact
    if exact.any():
        y = rows.low[exact]
        solution = np.linalg.lstsq(X[exact], y)[0]
        misfit = np.abs(y - X[exact] @ solution).max()
        if misfit > EXACT * float(np.ptp(rows.middle())) + ROUNDING * float(np.abs(y).max()):
            return False
    low, high = np.isfinite(rows.low) & ~exact, np.isfinite(rows.high) & ~exact
    found = linprog(
        np.zeros(X.shape[1]),
        A_ub=np.vstack([-X[low], X[high]]),
        b_ub=np.concatenate([-rows.low[low], rows.high[high]]),
        A_eq=X[exact] if exact.any() else None,
        b_eq=rows.low[exact] if exact.any() else None,
        bounds=(None, None),
    )
    return bool(found.status == 0)
