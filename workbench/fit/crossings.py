"""Where two lines cross: the setting at which an interaction turns an effect round."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import stdtrit

from workbench.define.factors import Categorical
from workbench.define.model_matrix import model_matrix
from workbench.define.settings import Settings
from workbench.errors import Unavailable
from workbench.numerics.spans import Span

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.factors import Factor, Numeric
    from workbench.define.terms import Term
    from workbench.fit.measured import MeasuredFit

CONFIDENCE = 0.95
ROUNDING = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """The setting of `along` at which `between` changes nothing, in the unit of `along`.

    `levels` are the two levels of a category, or the low and high end of a numeric factor, in
    words; all other numeric factors stand at the middle of their range and all other categories
    at the average of their levels. `inside` says whether the setting lies in the range tried.
    """

    along: Numeric
    between: Factor
    levels: tuple[str, str]
    value: float
    interval: Span | Unavailable
    inside: bool


def crossings(fit: MeasuredFit) -> tuple[Crossing, ...]:
    """Return every crossing of a straight interaction between two factors, products of two only.

    A factor that bends the difference (a square inside a product) has no single crossing and is
    left out, as are terms that are aliased or whose slopes do not differ at all.
    """
    found = []
    for one in fit.terms.terms:
        pair = _pair(one, fit)
        if pair is not None:
            found += _crossings_of(fit, *pair)
    return tuple(found)


def _pair(one: Term, fit: MeasuredFit) -> tuple[Factor, Numeric] | None:
    if [power for _, power in one.powers] != [1, 1] or _bends(one, fit):
        return None
    named = {factor.name: factor for factor in fit.settings.factors}
    first, second = (named[name] for name in one.factors)
    if not isinstance(second, Categorical):
        return first, second
    return None if isinstance(first, Categorical) else (second, first)


def _bends(one: Term, fit: MeasuredFit) -> bool:
    both = set(one.factors)
    return any(both <= set(other.factors) and other.order > 2 for other in fit.terms.terms)


def _crossings_of(fit: MeasuredFit, between: Factor, along: Numeric) -> list[Crossing]:
    if isinstance(between, Categorical):
        n = len(between.levels)
        ends = [(float(i), float(j)) for i in range(n) for j in range(i + 1, n)]
        words = [(between.levels[int(i)], between.levels[int(j)]) for i, j in ends]
    else:
        ends = [(between.low, between.high)]
        words = [(f"{between.low:g} {between.unit}".strip(), f"{between.high:g} {between.unit}")]
    found = (
        _crossing(fit, between, along=along, ends=pair, words=said)
        for pair, said in zip(ends, words, strict=True)
    )
    return [one for one in found if one is not None]


def _crossing(
    fit: MeasuredFit,
    between: Factor,
    *,
    along: Numeric,
    ends: tuple[float, float],
    words: tuple[str, str],
) -> Crossing | None:
    low = _difference(fit, between, ends=ends, along=along, at=along.low)
    high = _difference(fit, between, ends=ends, along=along, at=along.high)
    at_low, at_high = float(low @ fit.estimates), float(high @ fit.estimates)
    slope = at_high - at_low
    if abs(slope) <= ROUNDING * max(abs(at_low), abs(at_high), 1e-300):
        return None
    share = -at_low / slope
    return Crossing(
        along=along,
        between=between,
        levels=words,
        value=along.low + share * (along.high - along.low),
        interval=_interval(fit, low, high - low, along=along),
        inside=0 <= share <= 1,
    )


def _difference(
    fit: MeasuredFit, between: Factor, *, ends: tuple[float, float], along: Numeric, at: float
) -> NDArray[np.float64]:
    """Return the contrast (p,) of the two ends of `between` with `along` at one setting."""
    factors = fit.settings.factors
    middle = [0.0 if isinstance(f, Categorical) else (f.low + f.high) / 2 for f in factors]
    rows = np.array([middle, middle])
    place = fit.settings.names.index
    rows[:, place(along.name)] = at
    rows[:, place(between.name)] = ends
    matrix = model_matrix(fit.terms, Settings(factors=factors, values=rows))
    contrast = matrix.X[0] - matrix.X[1]
    others = {f.name for f in factors if isinstance(f, Categorical)} - {between.name}
    # Sum-to-zero columns average to nothing over the levels of the other categories.
    averaged = [bool(others & set(matrix.terms[t].factors)) for t in matrix.term]
    contrast = np.where(averaged, 0.0, contrast)
    return np.concatenate([contrast, np.zeros(fit.n_block_columns)])


def _interval(
    fit: MeasuredFit, start: NDArray[np.float64], rise: NDArray[np.float64], *, along: Numeric
) -> Span | Unavailable:
    """Return the settings at which the difference may be zero (Fieller 1954, JRSS B 16, 175)."""
    if isinstance(fit.residual_variance, Unavailable):
        return Unavailable(reason="no error estimate: replicate some runs")
    reach = float(stdtrit(fit.error_df, 0.5 + CONFIDENCE / 2)) ** 2 * fit.residual_variance
    spread = fit.unscaled_covariance
    a, b = float(start @ fit.estimates), float(rise @ fit.estimates)
    square = b * b - reach * float(rise @ spread @ rise)
    middle = a * b - reach * float(start @ spread @ rise)
    constant = a * a - reach * float(start @ spread @ start)
    root = middle * middle - square * constant
    if square <= 0 or root < 0:
        return Unavailable(
            reason="the slopes are not told apart well enough to bound the crossing"
        )
    ends = sorted((-middle + sign * root**0.5) / square for sign in (-1, 1))
    width = along.high - along.low
    return Span(low=along.low + ends[0] * width, high=along.low + ends[1] * width)
