"""Power: the chance that a plan finds an effect of a stated size, term by term.

An effect is high minus low; of a product, half the difference of differences; of a square, the
rise from the middle to an end. Between categories it is the difference of two levels with the
rest midway, for the pair that this plan compares worst.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, product
from math import log, sqrt
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical
from workbench.define.terms import MEAN
from workbench.errors import PlanError, Unavailable
from workbench.numerics.noncentral import noncentrality_for, power_of_f
from workbench.plan.strata import strata

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.define.terms import Term
    from workbench.plan.plans import Plan
    from workbench.plan.strata import Stratum


@dataclass(frozen=True, slots=True, kw_only=True)
class TermPower:
    """Chance of finding an effect of a term, with the scatter and error df it rests on.

    `effect` and `sd` are as asked: differences in the outcome's unit, or ratios.
    """

    term: Term
    effect: float
    sd: float
    error_df: int
    power: float | Unavailable


@dataclass(frozen=True, slots=True, kw_only=True)
class Detectable:
    """The effect of a term that is found with the chance asked: a difference, or a ratio."""

    term: Term
    difference: float | Unavailable
    error_df: int


@dataclass(frozen=True, slots=True, kw_only=True)
class DetectableAt:
    """The effects that are found with the chance asked if the scatter between runs is `sd`."""

    sd: float
    terms: tuple[Detectable, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scatter:
    """Scatter as the model sees it (after logs): of runs, and of resets of slow settings."""

    run: float
    setup: float | None


def power(
    plan: Plan,
    *,
    sd: float,
    effect: float,
    alpha: float,
    setup_sd: float | None = None,
    as_ratio: bool = False,
) -> tuple[TermPower, ...]:
    """Return the power of the F test of each term of the plan's model, blocks allowed for.

    `sd` is the scatter between runs (gauge and part scatter of a run's mean in it), `setup_sd`
    that between resets of slow settings. With `as_ratio` they and `effect` are ratios, such as
    1.3 for "times or divided by 1.3", and logarithms are taken here.

    Raises
    ------
    PlanError
        If a number is out of its range, or the plan cannot carry its model.
    """
    scatter = _scatter(sd, setup_sd, as_ratio=as_ratio)
    _check_share("alpha", alpha)
    size = _size("effect", effect, as_ratio=as_ratio)
    return tuple(
        TermPower(
            term=one.term,
            effect=effect,
            sd=sd,
            error_df=one.error_df,
            power=_power(one, size, alpha),
        )
        for one in _tested(plan, scatter)
    )


def detectable(
    plan: Plan,
    *,
    sd: float,
    alpha: float,
    chance: float,
    setup_sd: float | None = None,
    as_ratio: bool = False,
) -> tuple[Detectable, ...]:
    """Return the effect of each term that the plan finds with a chance; arguments as in `power`.

    Raises
    ------
    PlanError
        If a number is out of its range, or the plan cannot carry its model.
    """
    scatter = _scatter(sd, setup_sd, as_ratio=as_ratio)
    _check_share("alpha", alpha)
    _check_share("chance", chance)
    if chance <= alpha:
        raise PlanError(
            f"A chance of {chance:g} was asked for at alpha {alpha:g}.",
            why="With no effect at all the test already rings that often.",
            next_step="Ask for a chance above alpha, such as 0.8.",
        )
    return tuple(
        Detectable(
            term=one.term,
            difference=_difference(one, (alpha, chance), as_ratio=as_ratio),
            error_df=one.error_df,
        )
        for one in _tested(plan, scatter)
    )


def detectable_at(
    plan: Plan,
    *,
    sds: Iterable[float],
    alpha: float,
    chance: float,
    setup_per_run: float | None = None,
    as_ratio: bool = False,
) -> tuple[DetectableAt, ...]:
    """Return the detectable effects for each of several scatters, where the sd is a guess.

    `setup_per_run` is the scatter between resets as a multiple of that between runs (on the log
    scale for ratios). Other arguments as in `detectable`.

    Raises
    ------
    PlanError
        If a number is out of its range, or the plan cannot carry its model.
    """
    return tuple(
        DetectableAt(
            sd=sd,
            terms=detectable(
                plan,
                sd=sd,
                alpha=alpha,
                chance=chance,
                setup_sd=_times(sd, setup_per_run, as_ratio=as_ratio),
                as_ratio=as_ratio,
            ),
        )
        for sd in sds
    )


def _times(sd: float, factor: float | None, *, as_ratio: bool) -> float | None:
    if factor is None:
        return None
    return sd**factor if as_ratio else sd * factor


@dataclass(frozen=True, slots=True, kw_only=True)
class _Tested:
    """A term's test: df, error df and the noncentrality of an effect of size 1."""

    term: Term
    df: int
    error_df: int
    unit_noncentrality: float | Unavailable


def _tested(plan: Plan, scatter: _Scatter) -> tuple[_Tested, ...]:
    found = strata(plan, run_sd=scatter.run, setup_sd=scatter.setup)
    return tuple(_test_of(one, plan.settings.factors) for one in found if one.term != MEAN)


def _test_of(stratum: Stratum, factors: tuple[Factor, ...]) -> _Tested:
    answer: float | Unavailable
    if isinstance(stratum.covariance, Unavailable):
        answer = stratum.covariance
        df = 1
    else:
        df = stratum.covariance.shape[0]
        weights = np.linalg.inv(stratum.covariance)
        patterns = _patterns(stratum.term, factors)
        answer = float(np.einsum("ij,jk,ik->i", patterns, weights, patterns).min())
    return _Tested(term=stratum.term, df=df, error_df=stratum.error_df, unit_noncentrality=answer)


def _patterns(term: Term, factors: tuple[Factor, ...]) -> NDArray[np.float64]:
    """Return coefficients (pairs, columns) of the term for every pair of levels, effect 1."""
    by_name = {factor.name: factor for factor in factors}
    choices = [_pairs(by_name[name]) for name in term.factors]
    is_curve = all(power % 2 == 0 for _, power in term.powers)
    half = 1.0 if is_curve else 0.5
    rows = []
    for chosen in product(*choices):
        row = np.ones(1)
        for part in chosen:
            row = np.outer(row, part).ravel()
        rows.append(half * row)
    return np.array(rows)


def _pairs(factor: Factor) -> list[NDArray[np.float64]]:
    if not isinstance(factor, Categorical):
        return [np.ones(1)]
    n = len(factor.levels)
    found = []
    for high, low in combinations(range(n), 2):
        levels = np.zeros(n)
        levels[high], levels[low] = 1.0, -1.0
        # They sum to zero, so the coefficient of each column is the value at its level.
        found.append(levels[:-1])
    return found


def _power(test: _Tested, size: float, alpha: float) -> float | Unavailable:
    if isinstance(test.unit_noncentrality, Unavailable):
        return test.unit_noncentrality
    noncentrality = test.unit_noncentrality * size**2
    return float(power_of_f(test.df, test.error_df, noncentrality, alpha=alpha))


def _difference(
    test: _Tested, levels: tuple[float, float], *, as_ratio: bool
) -> float | Unavailable:
    if isinstance(test.unit_noncentrality, Unavailable):
        return test.unit_noncentrality
    alpha, chance = levels
    needed = noncentrality_for(test.df, test.error_df, alpha=alpha, chance=chance)
    size = sqrt(needed / test.unit_noncentrality)
    return float(np.exp(size)) if as_ratio else size


def _scatter(sd: float, setup_sd: float | None, *, as_ratio: bool) -> _Scatter:
    run = _size("sd", sd, as_ratio=as_ratio)
    if run <= 0:
        raise PlanError(
            f"The sd is {sd:g}, no scatter at all.",
            why="Without scatter every effect is found and no plan is needed.",
            next_step="State the scatter between runs that you expect.",
        )
    if setup_sd is None:
        return _Scatter(run=run, setup=None)
    return _Scatter(run=run, setup=_size("setup_sd", setup_sd, as_ratio=as_ratio))


def _size(name: str, value: float, *, as_ratio: bool) -> float:
    if as_ratio and np.isfinite(value) and value >= 1:
        return log(value)
    if not as_ratio and np.isfinite(value) and value >= 0:
        return float(value)
    wanted = "a ratio of 1 or more" if as_ratio else "a number of 0 or more"
    raise PlanError(
        f"The {name} is {value!r}.",
        why=f"It is {wanted}: power needs its size, not its direction.",
        next_step=f"Write {wanted}.",
    )


def _check_share(name: str, value: float) -> None:
    if not 0 < value < 1:
        raise PlanError(
            f"The {name} is {value!r}.",
            why="It is a chance, a part of one.",
            next_step="Write a number between 0 and 1, such as 0.05 for alpha or 0.8 for chance.",
        )
