"""Solve a mixed model of an outcome: variances, tests, and what predictions rest on."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import Unavailable
from workbench.fit.core import no_scatter
from workbench.fit.mixed_answers import BareAnswers, MixedAnswers
from workbench.fit.plurals import plural
from workbench.numerics.mixed_model import mixed_solution
from workbench.numerics.mixed_rule import ruled_fit
from workbench.numerics.random_terms import random_terms, without
from workbench.numerics.reml import reml

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.outcomes import Measured
    from workbench.define.terms import Terms
    from workbench.fit.core import Core
    from workbench.fit.linear_answers import Answers
    from workbench.fit.mixed_answers import Method
    from workbench.fit.mixed_rows import MixedRows
    from workbench.fit.strata import Strata
    from workbench.numerics.mixed_rule import RuledFit
    from workbench.numerics.random_terms import RandomTerms


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Asked:
    """What was asked of a mixed model."""

    outcome: Measured
    terms: Terms
    uses_as_run: bool
    strata: Strata


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solved:
    """A mixed model solved: `answers` for tests, `predicting` at the bounded variances.

    `y` (n,) is the response about its mean; `reason` says why there is no error estimate.
    """

    structure: Core
    layout: RandomTerms
    ruled: RuledFit
    y: NDArray[np.float64]
    answers: Answers
    predicting: MixedAnswers | None
    method: Method
    reason: Unavailable | None


def mixed_solved(structure: Core, rows: MixedRows, method: Method) -> Solved:
    """Return the model of the rows solved, or its numbers alone with the reason."""
    shift = float(rows.data.response.mean())
    y = rows.data.response - shift
    layout = random_terms(structure.matrix.X, [one.levels.astype(np.intp) for one in rows.random])
    ruled = ruled_fit(layout, y, _hypotheses(structure))
    reason = _no_answer(structure, ruled)
    between = plural(_innermost_shared(rows))
    if reason is not None or ruled.solution is None:
        kept = structure.whole.kept
        bare = BareAnswers(estimates=structure.estimates[kept], reason=reason or not_told())
        return Solved(
            structure=structure,
            layout=layout,
            ruled=ruled,
            y=y,
            answers=bare,
            predicting=None,
            method=method,
            reason=bare.reason,
        )
    kind: Method = method if ruled.solution.is_sound else "Satterthwaite"
    answers = MixedAnswers(
        terms=layout,
        ruled=ruled,
        solution=ruled.solution,
        shift=shift,
        between=between,
        method=kind,
    )
    return Solved(
        structure=structure,
        layout=layout,
        ruled=ruled,
        y=y,
        answers=answers,
        predicting=_predicting(answers, y),
        method=kind,
        reason=None,
    )


def _hypotheses(structure: Core) -> list[NDArray[np.float64]]:
    whole, kept = np.eye(structure.whole.kept.size), structure.whole.kept
    places = [structure.matrix.places(term) for term in structure.matrix.tested]
    return [whole[one[kept[one]]] for one in places if kept[one].any()]


def _predicting(answers: MixedAnswers, y: NDArray[np.float64]) -> MixedAnswers | None:
    """Return the model at its bounded variances, components at zero left out."""
    ruled = answers.ruled
    positive = ~ruled.below_zero[ruled.estimable]
    if ruled.reason or positive.all():
        return answers
    terms = without(ruled.bounded_terms, positive)
    fit = reml(terms, y, negative=False)
    solution = mixed_solution(terms, y, fit) if fit.status == "converged" else None
    if solution is None:
        return None
    return replace(answers, ruled=replace(ruled, fit=fit), solution=solution)


def not_told() -> Unavailable:
    """Return why there is no error estimate where no variances could be found."""
    return Unavailable(reason="the scatter of the levels could not be told apart from these rows")


def _no_answer(structure: Core, ruled: RuledFit) -> Unavailable | None:
    match ruled.status:
        case "no error df":
            return (
                structure.variance
                if isinstance(structure.variance, Unavailable)
                else Unavailable(reason="no run is left to judge scatter by")
            )
        case "no scatter":
            return no_scatter()
        case "no residual":
            return Unavailable(
                reason="no scatter is left below the levels of the structure: rows of one level "
                "read exactly alike (check the resolution of the readings, and whether one was "
                "copied), or there are too few rows to tell levels from what lies below them"
            )
        case "not converged" | "confounded":
            return not_told()
        case _:
            return None


def _innermost_shared(rows: MixedRows) -> str:
    shared = [one.name for one in rows.random if one.what != "run"]
    return shared[-1] if shared else "run"


def positive(solved: Solved) -> NDArray[np.bool_]:
    """Return which estimable terms have a scatter above zero."""
    ruled = solved.ruled
    return np.asarray(~ruled.below_zero[ruled.estimable])
