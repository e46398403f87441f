"""Which terms the data ask for: beside the full model, which stays on show and predicts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.terms import MEAN, parents
from workbench.errors import Unavailable
from workbench.fit.matrix import BLOCKS, fit_matrix
from workbench.numerics.selection import (
    Columns,
    hereditary_subsets,
    least_squares_scores,
    noise_gain,
    ranked,
    walked_subsets,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.terms import Term
    from workbench.fit.matrix import FitMatrix
    from workbench.fit.measured import MeasuredFit
    from workbench.numerics.selection import Ranked

FALSE_ALARMS = 0.05
MODELS_SHOWN = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class RankedModel:
    """A model by its terms, with its AICc above that of the best."""

    terms: tuple[Term, ...]
    above_best: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Selection:
    """The models that the data rank highest, and whether there is anything to select.

    `chosen` is the smallest model within two AICc units of the best. `support` is the weight of
    all models that hold a term: it leans towards certainty in the middle and is no probability.
    `is_signal` says whether the best model gains more over the empty one than pure scatter does
    in 95 of 100 trials on the same runs. Degrees of freedom after selection are as if the chosen
    model had been planned; intervals for terms that it left out do not exist.
    """

    chosen: tuple[Term, ...]
    models: tuple[RankedModel, ...]
    support: tuple[tuple[Term, float], ...]
    gain: float
    gain_of_noise: float
    n_models: int
    is_whole: bool
    seed: int

    @property
    def is_signal(self) -> bool:
        """Whether the gain is beyond what pure scatter gives."""
        return self.gain > self.gain_of_noise

    def words(self) -> str:
        """Return what was found in two sentences."""
        signal = "yes" if self.is_signal else "no"
        asked = ", ".join(map(str, self.chosen)) or "the mean alone"
        return (
            f"Signal beyond noise: {signal} (gain {self.gain:.3g}, pure scatter stays below "
            f"{self.gain_of_noise:.3g} in 95 of 100 trials). Smallest model within 2 of the best: "
            f"{asked}; its degrees of freedom are as if it had been planned, and the full model "
            "is what predicts."
        )


def selection(fit: MeasuredFit, *, seed: int) -> Selection | Unavailable:
    """Return the ranking of all models below the one that was fitted.

    Every model keeps heredity and whole factors; the mean and fixed blocks are in each. `seed`
    starts the 2,000 made-up trials of pure scatter. Unavailable where no term stands in the
    model, terms are aliased, nothing varies, or the runs are too few to rank any term.
    """
    matrix = fit_matrix(fit.terms, fit.settings, (fit.block, fit.block_labels))
    terms = tuple(one for one in matrix.terms if one not in (MEAN, BLOCKS))
    why = _not_ranked(fit, terms)
    if why:
        return Unavailable(reason=why)
    columns = _columns(matrix, terms)
    response = fit.response - fit.response.mean()
    found = _ranking(columns, _parents(terms), response)
    limit = noise_gain(
        columns, found.subsets, chance=FALSE_ALARMS, rng=np.random.default_rng(seed)
    )
    return Selection(
        chosen=_of(terms, found.subsets[found.chosen]),
        models=tuple(
            RankedModel(terms=_of(terms, subset), above_best=float(score - found.aicc[0]))
            for subset, score in zip(
                found.subsets[:MODELS_SHOWN], found.aicc[:MODELS_SHOWN], strict=True
            )
        ),
        support=tuple(zip(terms, map(float, found.support()), strict=True)),
        gain=found.gain,
        gain_of_noise=limit,
        n_models=len(found.subsets),
        is_whole=found.whole,
        seed=seed,
    )


def _not_ranked(fit: MeasuredFit, terms: tuple[Term, ...]) -> str:
    if not terms:
        return "no term stands in the model, so there is nothing to select from"
    if fit.aliased:
        lines = "; ".join(one.line for one in fit.aliased)
        return f"these cannot be told apart ({lines}), so no ranking can choose between them"
    if np.ptp(fit.response) == 0:
        return "every run has the same mean, so no term is asked for"
    if _terms_at_most(fit.response.size) < 1:
        return f"{fit.response.size} runs are too few to rank models by what they gain"
    return ""


def _terms_at_most(n_runs: int) -> int:
    """Half the runs, less one: beyond it AICc has too little left to judge a model by."""
    return n_runs // 2 - 1


def _columns(matrix: FitMatrix, terms: tuple[Term, ...]) -> Columns:
    owner = [matrix.terms[index] for index in matrix.term]
    place = [terms.index(one) if one in terms else -1 for one in owner]
    return Columns(X=np.array(matrix.X), term=np.array(place, dtype=np.int64))


def _parents(terms: tuple[Term, ...]) -> NDArray[np.bool_]:
    """Return which terms (t, t) a term stands on; a parent that is not asked for asks nothing."""
    above = np.zeros((len(terms), len(terms)), dtype=bool)
    for i, one in enumerate(terms):
        for parent in parents(one):
            if parent in terms:
                above[i, terms.index(parent)] = True
    return above


def _ranking(columns: Columns, above: NDArray[np.bool_], response: NDArray[np.float64]) -> Ranked:
    most = _terms_at_most(response.size)
    subsets = hereditary_subsets(above, terms_at_most=most)
    whole = subsets is not None
    if subsets is None:
        subsets = walked_subsets(
            above,
            lambda one: float(least_squares_scores(columns, [one], response)[0]),
            terms_at_most=most,
        )
    return ranked(subsets, least_squares_scores(columns, subsets, response), whole=whole)


def _of(terms: tuple[Term, ...], subset: NDArray[np.bool_]) -> tuple[Term, ...]:
    return tuple(one for one, stands in zip(terms, subset, strict=True) if stands)
