"""Proportional-odds regression of grades, by penalised or plain maximum likelihood.

The penalty (`ordered_likelihood`) keeps every estimate finite, also where some settings saw one
grade only. The branch that a constrained maximum takes can split, and along the symmetric path
the slope is then zero on a saddle, so constrained fits are started from two kicked points.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import chdtrc, logit

from workbench.numerics.ordered_likelihood import (
    observed_information,
    point,
    slope,
)
from workbench.numerics.profiles import profile_span

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.numerics.ordered_likelihood import (
        Grades,
        OrderedPoint,
    )
    from workbench.numerics.spans import Span

STEPS, HALVINGS = 300, 30
SETTLED = 1e-11  # what a full step would still gain
SETTLED_ON_PROFILE = 1e-8  # a limit moves by a quarter of it, in standard errors
CLOSE = 1e-5  # standard errors to which a limit is found
LONGEST = 5.0  # logits that one step may move any cumulative logit by
KICK = 0.3  # standard errors along the softest direction


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OrderedSolution:
    """Thresholds (m,) and slopes (p,) with the inverse information (m + p, m + p).

    `weight` is 1 with the penalty and 0 without. `is_settled` is false where no maximum was
    reached, which happens only without the penalty.
    """

    data: Grades
    parameters: NDArray[np.float64]
    covariance: NDArray[np.float64]
    log_likelihood: float
    penalised: float
    weight: float
    is_settled: bool

    def __post_init__(self) -> None:
        self.parameters.setflags(write=False)
        self.covariance.setflags(write=False)

    @property
    def thresholds(self) -> NDArray[np.float64]:
        """Cumulative logits at x = 0 (m,)."""
        return self.parameters[: self.data.n_thresholds]

    @property
    def slopes(self) -> NDArray[np.float64]:
        """Slopes (p,): a positive one moves towards higher grades."""
        return self.parameters[self.data.n_thresholds :]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChiSquareTest:
    """Twice the fall of the (penalised) log-likelihood, degrees of freedom and p."""

    fall: float
    df: int
    p: float


def proportional_odds(data: Grades, *, penalty: bool = True) -> OrderedSolution:
    """Return the fit of all slopes, whose columns must not depend on one another or a constant."""
    weight = 1.0 if penalty else 0.0
    size = data.n_thresholds + data.X.shape[1]
    found = _climb(data, _start(data), (np.ones(size, dtype=bool), weight))
    last = point(data, found.parameters, weight=weight)
    information = last.information if penalty else observed_information(data, last)
    return OrderedSolution(
        data=data,
        parameters=found.parameters,
        covariance=np.asarray(np.linalg.pinv(information, hermitian=True), dtype=np.float64),
        log_likelihood=last.log_likelihood,
        penalised=found.value,
        weight=weight,
        is_settled=found.is_settled,
    )


def ordered_limits(
    solution: OrderedSolution, weights: NDArray[np.float64], *, fall_allowed: float
) -> Span:
    """Return the profile interval of a weighted sum (weights (p,)) of the slopes."""
    turned = _turned(solution, weights)
    value, m = float(turned.slopes[-1]), solution.data.n_thresholds
    size = float(np.sqrt(weights @ solution.covariance[m:, m:] @ weights))
    place = np.array([turned.parameters.size - 1])
    branch: dict[bool, NDArray[np.float64]] = {}

    def fall(at: float) -> float:
        side = at > value
        # A branch once entered from kicked starts is followed by a single climb, along its chord.
        near = branch.get(side, turned.parameters)
        if side in branch:
            near = _along(near, turned, at)
        held = _held(turned, place, _From(near, at, kicked=side not in branch))
        if held.parameters[-1] != value:
            branch[side] = held.parameters
        return 2 * (solution.penalised - held.value)

    return profile_span(fall, start=value, std_error=size, threshold=fall_allowed, close=CLOSE)


def _along(near: NDArray[np.float64], turned: OrderedSolution, at: float) -> NDArray[np.float64]:
    """Return the chord from the maximum through `near`, where its last parameter is `at`."""
    whole, m = turned.parameters, turned.data.n_thresholds
    chord = (at - near[-1]) / (near[-1] - whole[-1])
    tried = near + chord * (near - whole)
    return tried if (np.diff(tried[:m]) > 0).all() else near


def fall_at(solution: OrderedSolution, weights: NDArray[np.float64], *, value: float) -> float:
    """Return twice the fall where the weighted sum (weights (p,)) of slopes is held at a value."""
    turned = _turned(solution, weights)
    place = np.array([turned.parameters.size - 1])
    held = _held(turned, place, _From(turned.parameters, value, kicked=True))
    return 2 * (solution.penalised - held.value)


def ordered_test(solution: OrderedSolution, places: NDArray[np.intp]) -> ChiSquareTest:
    """Return the test that the slopes at `places` are zero, the penalty that of the whole model.

    Heinze and Schemper (2002), Statistics in Medicine 21, 2409-2419.
    """
    at = solution.data.n_thresholds + places
    held = _held(solution, at, _From(solution.parameters, 0.0, kicked=True))
    fall = max(2 * (solution.penalised - held.value), 0.0)
    return ChiSquareTest(fall=fall, df=int(places.size), p=float(chdtrc(places.size, fall)))


@dataclass(frozen=True, slots=True)
class _Climbed:
    parameters: NDArray[np.float64]
    value: float
    is_settled: bool


def _start(data: Grades) -> NDArray[np.float64]:
    m = data.n_thresholds
    counts = np.bincount(data.grade, minlength=m + 1) + 0.5
    below = np.cumsum(counts)[:-1] / counts.sum()
    return np.concatenate([logit(below), np.zeros(data.X.shape[1])])


def _climb(
    data: Grades, start: NDArray[np.float64], how: tuple[NDArray[np.bool_], float]
) -> _Climbed:
    """Return the maximum over the free parameters by scoring steps, halved until it rises."""
    free, weight = how
    here = point(data, start, weight=weight)
    reach = np.abs(data.ways).max(axis=(0, 1))
    settled = SETTLED if free.all() else SETTLED_ON_PROFILE
    for _ in range(STEPS):
        uphill = slope(data, here, weight=weight)[free]
        step = np.zeros_like(start)
        step[free] = np.linalg.solve(here.information[np.ix_(free, free)], uphill)
        gain = float(uphill @ step[free])
        if gain < settled:
            return _Climbed(here.parameters, here.value, is_settled=True)
        step *= min(1.0, LONGEST / float((np.abs(step) * reach).max()))
        further = _halved(data, (here, weight), step)
        if further is None:
            return _Climbed(here.parameters, here.value, is_settled=gain < 1e-6)
        here = further
    return _Climbed(here.parameters, here.value, is_settled=False)


def _halved(
    data: Grades, where: tuple[OrderedPoint, float], step: NDArray[np.float64]
) -> OrderedPoint | None:
    here, weight = where
    for _ in range(HALVINGS):
        further = point(data, here.parameters + step, weight=weight)
        if further.value > here.value:
            return further
        step = step / 2
    return None


@dataclass(frozen=True, slots=True)
class _From:
    near: NDArray[np.float64]
    value: float
    kicked: bool


def _held(solution: OrderedSolution, places: NDArray[np.intp], start: _From) -> _Climbed:
    """Return the best climb with the parameters at `places` held at a value."""
    free = np.ones(start.near.size, dtype=bool)
    free[places] = False
    begin = start.near.copy()
    begin[places] = start.value
    kicks = [np.zeros_like(begin)]
    if start.kicked and solution.weight:
        kicks = _kicks(solution, begin, free)
    found = [_climb(solution.data, begin + kick, (free, solution.weight)) for kick in kicks]
    return max(found, key=_height)


def _height(one: _Climbed) -> float:
    return one.value


def _kicks(
    solution: OrderedSolution, begin: NDArray[np.float64], free: NDArray[np.bool_]
) -> list[NDArray[np.float64]]:
    m = solution.data.n_thresholds
    slopes_only = free.copy()
    slopes_only[:m] = False
    if not slopes_only.any():
        return [np.zeros_like(begin)]
    information = point(solution.data, begin, weight=0.0).information[
        np.ix_(slopes_only, slopes_only)
    ]
    values, vectors = np.linalg.eigh(information)
    kick = np.zeros_like(begin)
    kick[slopes_only] = KICK * vectors[:, 0] / np.sqrt(max(float(values[0]), 1e-2))
    return [kick, -kick]


def _turned(solution: OrderedSolution, weights: NDArray[np.float64]) -> OrderedSolution:
    """Return the fit in columns whose last slope is the weighted sum."""
    m, pivot = solution.data.n_thresholds, int(np.argmax(np.abs(weights)))
    others = np.delete(np.arange(weights.size), pivot)
    X = solution.data.X
    carrier = X[:, pivot] / weights[pivot]
    columns = np.column_stack([X[:, others] - np.outer(carrier, weights[others]), carrier])
    value = float(weights @ solution.slopes)
    ways = np.concatenate(
        [solution.data.ways[:, :, :m], np.repeat(-columns[:, None, :], m, axis=1)], axis=2
    )
    parameters = np.concatenate([solution.thresholds, solution.slopes[others], [value]])
    return OrderedSolution(
        data=replace(solution.data, X=columns, ways=ways),
        parameters=parameters,
        covariance=solution.covariance,
        log_likelihood=solution.log_likelihood,
        penalised=solution.penalised,
        weight=solution.weight,
        is_settled=solution.is_settled,
    )
