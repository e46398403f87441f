"""Which variance components a mixed model's tests rest on where one is estimated at or below zero.

The unbounded restricted maximum gives tests of the right size (in balanced plans exactly those
of the strata). It is left for the bounded one, without the components estimated at zero, where
it does not converge, where the covariance of the error contrasts is nearly singular, or where
the degrees of freedom make no sense. Sizes of 5 % tests under this rule: tests/studies.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from workbench.numerics.kenward_roger import kenward_roger_each, kenward_roger_joint
from workbench.numerics.mixed_model import mixed_solution
from workbench.numerics.random_terms import without
from workbench.numerics.reml import reml

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from workbench.numerics.mixed_model import MixedSolution
    from workbench.numerics.random_terms import RandomTerms
    from workbench.numerics.reml import Status, VarianceFit

NEARLY_SINGULAR = 0.02  # smallest eigenvalue of the contrasts' covariance, in residual variances
LEAST_DF = 0.5
ZERO = 1e-10  # share of the total variance below which a bounded component is at its bound

Reason = Literal["", "not converged", "nearly singular", "degrees of freedom"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RuledFit:
    """The components the tests rest on, and the bounded ones that predictions rest on.

    `used` (R,) are the random terms in `terms`, `fit` and `solution`: all that are `estimable`,
    less those at zero if `reason` says why the unbounded fit was left. `below_zero` (R,) are
    the terms whose unbounded or bounded estimate is at or below zero. `bounded` is over the
    estimable terms. `solution` is None where `status` is not "converged".
    """

    status: Status
    reason: Reason
    estimable: NDArray[np.bool_]
    used: NDArray[np.bool_]
    below_zero: NDArray[np.bool_]
    terms: RandomTerms
    fit: VarianceFit
    bounded: VarianceFit
    bounded_terms: RandomTerms
    solution: MixedSolution | None


def ruled_fit(
    terms: RandomTerms,
    y: NDArray[np.float64],
    tests: Sequence[NDArray[np.float64]] = (),
) -> RuledFit:
    """Return the fit whose tests hold their size; `tests` are the joint hypotheses (l, p) asked.

    Terms whose variance the rows cannot tell apart are left out first (see `hangs_on`).
    """
    estimable = terms.estimable
    inside = without(terms, estimable)
    free = reml(inside, y, negative=True)
    solution = mixed_solution(inside, y, free) if free.status == "converged" else None
    reason = _reason(inside, free, (solution, tests))
    bounded = free if not (free.ratios < 0).any() else None
    if bounded is None or reason:
        bounded = reml(inside, y, negative=False)
    low = bounded.variances[:-1] <= ZERO * bounded.variances.sum()
    if not reason:
        low = free.ratios <= 0
        kept, fit = np.ones(inside.n_terms, dtype=bool), free
    else:
        kept = ~low
        inside, fit = _dropped(inside, y, (kept, bounded))
        solution = mixed_solution(inside, y, fit) if fit.status == "converged" else None
    return RuledFit(
        status=fit.status,
        reason=reason,
        estimable=estimable,
        used=_spread(estimable, kept),
        below_zero=_spread(estimable, low),
        terms=inside,
        fit=fit,
        bounded=bounded,
        bounded_terms=without(terms, estimable),
        solution=solution,
    )


def hangs_on(
    terms: RandomTerms, fit: VarianceFit, combinations: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Return which combinations (k, p) have a variance that an inestimable term enters.

    Such a combination has an estimate but no standard error: nothing in the rows says how much
    the levels of that term differ by themselves. `fit` is the bounded one, over the estimable
    terms. A term
    with the levels of another one, or with one row a level, is part of that one's variance (of
    the residual) and hides nothing.
    """
    hidden = ~terms.estimable & ~_harmless(terms)
    found = np.zeros(combinations.shape[0], dtype=bool)
    if not hidden.any():
        return found
    ratios = np.zeros(terms.n_terms)
    ratios[terms.estimable] = np.maximum(fit.ratios, 0.0)
    without_it = _variances(terms, ratios, combinations)
    with_it = _variances(terms, np.where(hidden, 1.0, ratios), combinations)
    return np.asarray(with_it > without_it * (1 + 1e-8))


def _reason(
    terms: RandomTerms,
    fit: VarianceFit,
    known: tuple[MixedSolution | None, Sequence[NDArray[np.float64]]],
) -> Reason:
    solution, tests = known
    if fit.status == "not converged":
        return "not converged"
    if fit.status != "converged":
        return ""
    if solution is None or fit.smallest_eigenvalue < NEARLY_SINGULAR:
        return "nearly singular"
    if not _sensible(terms, solution, tests):
        return "degrees of freedom"
    return ""


def _sensible(
    terms: RandomTerms, solution: MixedSolution, tests: Sequence[NDArray[np.float64]]
) -> bool:
    if not solution.is_sound:
        return False
    each = np.eye(terms.fixed.kept.size)[terms.fixed.kept]
    joint = [kenward_roger_joint(solution, one).error_df for one in tests]
    df = np.append(kenward_roger_each(solution, each).df, joint)
    # A match of rounding errors is no more than the whole, so a hair above it is let pass.
    return bool(((df > LEAST_DF) & (df < terms.error_df * (1 + 1e-6))).all())


def _dropped(
    terms: RandomTerms,
    y: NDArray[np.float64],
    known: tuple[NDArray[np.bool_], VarianceFit],
) -> tuple[RandomTerms, VarianceFit]:
    kept, bounded = known
    if kept.all():
        return terms, bounded
    fewer = without(terms, kept)
    return fewer, reml(fewer, y, negative=False)


def _spread(estimable: NDArray[np.bool_], inside: NDArray[np.bool_]) -> NDArray[np.bool_]:
    whole = np.zeros(estimable.size, dtype=bool)
    whole[estimable] = inside
    return whole


def _harmless(terms: RandomTerms) -> NDArray[np.bool_]:
    alike = [
        terms.Z[:, terms.owner == term] @ terms.Z[:, terms.owner == term].T
        for term in range(terms.n_terms)
    ]
    known = [np.eye(terms.Z.shape[0])]
    found = np.zeros(terms.n_terms, dtype=bool)
    for term, own in enumerate(alike):
        found[term] = any(np.array_equal(own, other) for other in known)
        if terms.estimable[term]:
            known.append(own)
    return found


def _variances(
    terms: RandomTerms, ratios: NDArray[np.float64], combinations: NDArray[np.float64]
) -> NDArray[np.float64]:
    spread = terms.Z * np.sqrt(ratios[terms.owner])
    covariance = np.eye(spread.shape[0]) + spread @ spread.T
    middle = terms.fixed.Q.T @ np.linalg.solve(covariance, terms.fixed.Q)
    rows = combinations @ terms.to_coefficients()
    return np.asarray((rows * np.linalg.solve(middle, rows.T).T).sum(axis=1))
