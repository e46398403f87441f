"""Restricted maximum likelihood of variance components by Newton's method on their ratios."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from workbench.numerics.reml_likelihood import (
    Contrasts,
    contrasts,
    moment_variances,
    pieces,
    profile_height,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

    from workbench.numerics.random_terms import RandomTerms
    from workbench.numerics.reml_likelihood import (
        Height,
        Pieces,
    )

Status = Literal[
    "converged", "not converged", "no error df", "no scatter", "no residual", "confounded"
]
MOST_STEPS = 100
# Newton decrement g′H⁻¹g in units of the log-likelihood: at 1e-18 the ratios stand to 1e-9 of
# their standard errors.
CLOSE_ENOUGH = 1e-18
SCATTER_FLOOR = 1e-22  # share of y′y that rounding alone leaves in the error contrasts
ENDLESS = 1e8  # a ratio beyond it: the likelihood rises as the residual variance falls to nothing
STARTS = (1.0, 0.1, 10.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class VarianceFit:
    """Variance components that maximise a likelihood, or the reason (`status`) why there are none.

    `ratios` (R,) to the residual variance `residual`; `log_likelihood` of the orthonormal error
    contrasts (restricted) or of the outcome (full); `smallest_eigenvalue` of the covariance of
    the error contrasts, in units of the residual variance. With a status other than "converged"
    the numbers are those of the last step, or zeros.
    """

    status: Status
    ratios: NDArray[np.float64]
    residual: float
    log_likelihood: float
    smallest_eigenvalue: float
    steps: int

    def __post_init__(self) -> None:
        self.ratios.setflags(write=False)

    @property
    def variances(self) -> NDArray[np.float64]:
        """Variances (R + 1,), the residual last, in the squared unit of the outcome."""
        return np.append(self.ratios, 1.0) * self.residual


def reml(terms: RandomTerms, y: NDArray[np.float64], *, negative: bool) -> VarianceFit:
    """Return the restricted maximum, variances kept at or above 0 unless `negative` allows less.

    A negative component is a covariance of the error contrasts that is still positive definite:
    rows of one level less alike than independent ones.
    """
    return _maximum(_Restricted(terms, contrasts(terms, y)), y, -np.inf if negative else 0.0)


def full_likelihood(terms: RandomTerms, y: NDArray[np.float64]) -> VarianceFit:
    """Return the maximum of the full likelihood, by which fixed terms compare."""
    return _maximum(_Full(terms, contrasts(terms, y)), y, 0.0)


class _Restricted:
    """The restricted likelihood of one outcome as a function of the ratios."""

    def __init__(self, terms: RandomTerms, seen: Contrasts) -> None:
        self.terms = terms
        self.seen = seen
        self.belongs = terms.membership()

    @property
    def n(self) -> int:
        return self.seen.n

    def pieces(self, ratios: NDArray[np.float64]) -> Pieces | None:
        per_column = ratios[self.terms.owner]
        found = pieces(self.terms.W, self.seen, per_column=per_column, belongs=self.belongs)
        return None if found is None or found.square == 0 else found

    def height(self, ratios: NDArray[np.float64]) -> Height | None:
        at = self.pieces(ratios)
        return None if at is None else profile_height(at, at)


class _Full(_Restricted):
    """The full likelihood: the determinant is that of all rows."""

    @property
    def n(self) -> int:
        return int(self.terms.Z.shape[0])

    def height(self, ratios: NDArray[np.float64]) -> Height | None:
        at = self.pieces(ratios)
        per_column = ratios[self.terms.owner]
        nothing = Contrasts(n=self.n, inside=np.zeros(self.n), outside=0.0)
        rows = pieces(self.terms.Z, nothing, per_column=per_column, belongs=self.belongs)
        return None if at is None or rows is None else profile_height(rows, at)


def _maximum(problem: _Restricted, y: NDArray[np.float64], floor: float) -> VarianceFit:
    status = _hopeless(problem.terms, problem.seen, y)
    if status is not None:
        zeros = np.zeros(problem.terms.n_terms)
        scatter = _total(problem.seen) / max(problem.seen.n, 1)
        return VarianceFit(
            status=status,
            ratios=zeros,
            residual=scatter,
            log_likelihood=0.0,
            smallest_eigenvalue=1.0,
            steps=0,
        )
    fit = _finished(problem, _first_top(problem, floor))
    if floor == 0.0 or not (fit.ratios < 0).any():
        return fit
    # There may be two tops; the one reached from the bounded maximum may be the higher.
    bounded = _first_top(problem, 0.0)
    other = _finished(problem, _climbed(problem.height, bounded.ratios, floor))
    return max(fit, other, key=_rank)


def _first_top(problem: _Restricted, floor: float) -> _Stop:
    stop = _Stop(ratios=np.zeros(problem.terms.n_terms), converged=False, steps=0)
    for start in _starts(problem, floor):
        stop = _climbed(problem.height, start, floor)
        if stop.converged:
            break
    return stop


def _rank(fit: VarianceFit) -> tuple[bool, float]:
    return fit.status == "converged", fit.log_likelihood


def _hopeless(terms: RandomTerms, seen: Contrasts, y: NDArray[np.float64]) -> Status | None:
    rounding = SCATTER_FLOOR * float(y @ y)
    if seen.n == 0:
        return "no error df"
    if _total(seen) <= rounding:
        return "no scatter"
    if not terms.estimable.all():
        return "confounded"
    if terms.residual_df > 0 and seen.outside <= rounding:
        return "no residual"
    return None


def _total(seen: Contrasts) -> float:
    return float(seen.inside @ seen.inside) + seen.outside


def _starts(problem: _Restricted, floor: float) -> Iterator[NDArray[np.float64]]:
    """Give places to climb from, the likeliest first: moments taken at several ratios."""
    for start in STARTS:
        ratios = np.full(problem.terms.n_terms, start)
        at = problem.pieces(ratios)
        if at is None:
            continue
        components = moment_variances(at, ratios)
        if components[-1] > 0:
            yield np.maximum(components[:-1] / components[-1], floor)
        yield ratios


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Stop:
    ratios: NDArray[np.float64]
    converged: bool
    steps: int


def _climbed(
    height: Callable[[NDArray[np.float64]], Height | None],
    start: NDArray[np.float64],
    floor: float,
) -> _Stop:
    ratios, here = start, height(start)
    for steps in range(MOST_STEPS):
        if here is None:
            break
        step = _newton_step(here, (ratios > floor) | (here.gradient > 0))
        gain = float(here.gradient @ step)
        if gain < CLOSE_ENOUGH:
            return _Stop(ratios=ratios, converged=True, steps=steps)
        further = _stepped(height, (ratios, here, step), floor)
        if further is None:
            # No further rise within rounding: the top, if what is left to gain is nothing.
            return _Stop(ratios=ratios, converged=gain < 1e-9, steps=steps)
        ratios, here = further
    return _Stop(ratios=ratios, converged=False, steps=MOST_STEPS)


def _newton_step(here: Height, free: NDArray[np.bool_]) -> NDArray[np.float64]:
    step = np.zeros(free.size)
    if not free.any():
        return step
    inside = np.ix_(free, free)
    for matrix in (here.curvature[inside], here.expected[inside]):
        try:
            lower = np.linalg.cholesky(matrix)
        except np.linalg.LinAlgError:
            continue
        half = np.linalg.solve(lower, here.gradient[free])
        step[free] = np.linalg.solve(lower.T, half)
        return step
    step[free] = here.gradient[free]
    return step


def _stepped(
    height: Callable[[NDArray[np.float64]], Height | None],
    at: tuple[NDArray[np.float64], Height, NDArray[np.float64]],
    floor: float,
) -> tuple[NDArray[np.float64], Height] | None:
    ratios, here, step = at
    slack = 1e-12 * max(1.0, abs(here.value))
    for halvings in range(40):
        trial = np.maximum(ratios + step / 2**halvings, floor)
        there = height(trial)
        if there is None or there.value < here.value - slack:
            continue
        # Near the top values differ by rounding only; the slope still says which is higher.
        if there.value > here.value + slack or _slope(there, trial, floor) < _slope(
            here, ratios, floor
        ):
            return trial, there
    return None


def _slope(place: Height, ratios: NDArray[np.float64], floor: float) -> float:
    free = (ratios > floor) | (place.gradient > 0)
    return float(np.abs(place.gradient[free] * np.maximum(np.abs(ratios[free]), 1e-3)).sum())


def _finished(problem: _Restricted, stop: _Stop) -> VarianceFit:
    place, at = problem.height(stop.ratios), problem.pieces(stop.ratios)
    if place is None or at is None:
        return VarianceFit(
            status="not converged",
            ratios=stop.ratios,
            residual=0.0,
            log_likelihood=0.0,
            smallest_eigenvalue=0.0,
            steps=stop.steps,
        )
    status: Status = "converged" if stop.converged else "not converged"
    if (stop.ratios > ENDLESS).any():
        status = "no residual"
    return VarianceFit(
        status=status,
        ratios=stop.ratios,
        residual=at.square / problem.n,
        log_likelihood=float(place.value),
        smallest_eigenvalue=_smallest(problem.terms, stop.ratios),
        steps=stop.steps,
    )


def _smallest(terms: RandomTerms, ratios: NDArray[np.float64]) -> float:
    if not (ratios < 0).any():
        return 1.0
    covariance = np.eye(terms.W.shape[0]) + (terms.W * ratios[terms.owner]) @ terms.W.T
    return float(min(1.0, np.linalg.eigvalsh(covariance)[0]))
