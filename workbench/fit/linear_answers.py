"""Tables of a fit of any kind from its answers about weighted sums of coefficients."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Protocol

import numpy as np

from workbench.define.terms import MEAN
from workbench.errors import Unavailable
from workbench.fit.aliasing import held_by
from workbench.fit.effects import placed_contrasts
from workbench.fit.nouns import Coefficient, Effect, TermTest

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.define.terms import Term
    from workbench.fit.core import Core
    from workbench.fit.effects import PlacedContrast
    from workbench.fit.nouns import Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighted:
    """What a fit says of one weighted sum; `estimate` Unavailable where it has no finite end."""

    value: float | Unavailable
    estimate: Estimate | Unavailable
    statistic: float | Unavailable
    p: float | Unavailable


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """Test that several coefficients are zero: twice the fall of the log-likelihood, F and p.

    `fall` is the rise of the deviance for counts.
    """

    fall: float
    df: int
    error_df: float
    statistic: float
    p: float


class Answers(Protocol):
    """What each kind of fit can be asked, in the columns that it keeps (r of p)."""

    def weighted(self, weights: NDArray[np.float64]) -> Weighted:
        """Return what is known of weights (r,) @ coefficients."""

    def joint(self, places: NDArray[np.intp]) -> Joint | Unavailable:
        """Return the test that the coefficients at places (q,) are zero."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EffectWords:
    """How effects are told: unit, whether exp makes a ratio of them, what is added to from_to.

    `judged_by` names the error of every test (its stratum).
    """

    unit: str
    is_ratio: bool
    tail: str = ""
    judged_by: str = "run"


def coefficients(
    structure: Core, answers: Answers, *, with_mean: bool = True
) -> tuple[Coefficient, ...]:
    """Return one coefficient a column, coded; the first column is left out without a mean."""
    found = []
    whole = structure.whole
    for place, name in enumerate(structure.matrix.names):
        term = structure.matrix.terms[structure.matrix.term[place]]
        if term == MEAN and not with_mean:
            continue
        if not whole.kept[place]:
            reason = Unavailable(reason=f"cannot be told apart from {held_by(structure, place)}")
            found.append(_unknown(name, term, reason))
            continue
        told = answers.weighted(_kept(structure, np.eye(whole.kept.size)[place]))
        found.append(
            Coefficient(
                name=name,
                term=term,
                scale="coded",
                value=told.value,
                estimate=told.estimate,
                statistic=told.statistic,
                p=told.p,
            )
        )
    return tuple(found)


def effect_table(
    structure: Core, answers: Answers, said: tuple[tuple[Factor, ...], EffectWords]
) -> tuple[Effect, ...]:
    """Return the effects of every term that is not wholly mixed with earlier ones.

    One of which nothing at all is known has no line; its coefficients say why.
    """
    factors, words = said
    found = []
    for one in placed_contrasts(structure, factors):
        told = answers.weighted(_kept(structure, one.weights))
        if not isinstance(told.value, Unavailable):
            found.append(_effect(one, (told, told.value), words))
    return tuple(found)


def test_table(structure: Core, answers: Answers, words: EffectWords) -> tuple[TermTest, ...]:
    """Return the test of each term adjusted for all others.

    `sum_of_squares` is twice the fall of the log-likelihood (the rise of the deviance).
    """
    return tuple(_test(structure, answers, (term, words)) for term in structure.matrix.tested)


def _effect(
    contrast: PlacedContrast, answer: tuple[Weighted, float], words: EffectWords
) -> Effect:
    told, value = answer
    estimate = told.estimate
    if words.is_ratio:
        value = float(np.exp(np.clip(value, -700, 700))) if np.isfinite(value) else _end(value)
        if not isinstance(estimate, Unavailable):
            ends = np.exp(np.clip([estimate.low, estimate.high], -700, 700))
            estimate = replace(estimate, value=value, low=float(ends[0]), high=float(ends[1]))
    return Effect(
        name=contrast.name,
        term=contrast.term,
        value=value,
        estimate=estimate,
        unit=words.unit,
        is_ratio=words.is_ratio,
        from_to=contrast.from_to + words.tail,
        p=told.p,
    )


def _end(value: float) -> float:
    return float(np.inf) if value > 0 else 0.0


def _test(structure: Core, answers: Answers, asked: tuple[Term, EffectWords]) -> TermTest:
    term, words = asked
    places = structure.matrix.places(term)
    kept = places[structure.whole.kept[places]]
    told: Joint | Unavailable
    if kept.size == 0:
        first = held_by(structure, int(places[0]))
        told = Unavailable(reason=f"cannot be told apart from {first}")
    else:
        told = answers.joint(np.searchsorted(np.flatnonzero(structure.whole.kept), kept))
    missing = isinstance(told, Unavailable)
    return TermTest(
        term=term,
        df=int(kept.size),
        error_df=0.0 if isinstance(told, Unavailable) else told.error_df,
        sum_of_squares=0.0 if isinstance(told, Unavailable) else told.fall,
        mean_square=0.0 if isinstance(told, Unavailable) else told.fall / told.df,
        statistic=told if isinstance(told, Unavailable) else told.statistic,
        p=told if isinstance(told, Unavailable) else told.p,
        stratum="" if missing else words.judged_by,
    )


def _kept(structure: Core, weights: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(weights[structure.whole.kept])


def _unknown(name: str, term: Term, reason: Unavailable) -> Coefficient:
    return Coefficient(
        name=name,
        term=term,
        scale="coded",
        value=reason,
        estimate=reason,
        statistic=reason,
        p=reason,
    )
