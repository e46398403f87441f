"""Definitive screening: main effects clear of squares and products in about 2k + 1 runs."""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical
from workbench.errors import PlanError
from workbench.numerics.screening_arrays import conference_order, definitive_array
from workbench.plan.asked import asked_model
from workbench.plan.draft import Draft, made, new_recipe
from workbench.plan.levels import coded_signs, refuse_many_levels
from workbench.plan.verify import verify_fold_over

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.define.terms import Terms
    from workbench.define.trial import Trial
    from workbench.plan.plans import Plan

MOST = 32  # columns of the largest conference matrix that is built
SEARCHED = 10  # categories whose zeros are set in every way; those of further ones are set high


def definitive(
    trial: Trial,
    *,
    seed: int,
    extra_pairs: int = 0,
    terms: Terms | str | None = None,
) -> Plan:
    """Return a definitive screening plan: a conference matrix, its mirror image and the centre.

    (Jones and Nachtsheim 2011, Journal of Quality Technology 43, 1-15; categories of two levels
    after Jones and Nachtsheim 2013, 45, 121-129: two centre runs, mirror images of one another.)
    `extra_pairs` adds at least so many mirrored pairs of runs beyond the smallest plan (columns
    of a larger matrix that no factor takes), which gives error degrees of freedom and power;
    Jones and Nachtsheim (2017, Technometrics 59, 319-329) advise two.

    Raises
    ------
    PlanError
        If there are too few or too many factors, or a category has more than two levels.
    """
    factors = trial.planned_factors
    refuse_many_levels(factors)
    order = _order(len(factors), extra_pairs)
    model = asked_model(trial, terms, custom="first-order")
    array = _array(factors, order)
    verify_fold_over(array)
    n = len(array)
    centres = 2 if _categories(factors).size else 1
    draft = Draft(
        coded=coded_signs(factors, array),
        point=("factorial",) * (n - centres) + ("centre",) * centres,
        block=np.ones(n, dtype=np.int64),
        replicate=np.array([1] * (n - centres) + [0] * centres, dtype=np.int64),
    )
    recipe = new_recipe(
        "definitive screening",
        seed=seed,
        options=(("extra pairs", extra_pairs), ("terms", model.text or None)),
        notes=_notes(factors, array, order),
    )
    return made(trial, draft, model=model, recipe=recipe)


def _array(factors: tuple[Factor, ...], order: int) -> NDArray[np.float64]:
    """Return the runs (n, k) coded −1, 0, +1, categories at −1 and +1 only, mirrored."""
    k = len(factors)
    array = definitive_array(k, order=order).astype(np.float64)
    places = _categories(factors)
    if places.size == 0:
        return array
    half = (len(array) - 1) // 2
    upper = _without_zeros(array[:half], places)
    centre = np.zeros((1, k))
    centre[0, places] = 1.0
    return np.vstack([upper, -upper, centre, -centre])


def _without_zeros(upper: NDArray[np.float64], places: NDArray[np.intp]) -> NDArray[np.float64]:
    """Return the upper half with the one zero of each category set so that columns mix least."""
    best, least = upper, np.inf
    rows = [int(np.flatnonzero(upper[:, j] == 0)[0]) for j in places]
    for signs in product((1.0, -1.0), repeat=min(len(rows), SEARCHED)):
        tried = np.array(upper)
        tried[rows, places] = (*signs, *((1.0,) * (len(rows) - len(signs))))
        overlap = np.abs(np.triu(tried.T @ tried, 1)).max()
        if overlap < least:
            best, least = tried, overlap
    return best


def _categories(factors: tuple[Factor, ...]) -> NDArray[np.intp]:
    return np.flatnonzero([isinstance(f, Categorical) for f in factors])


def _notes(factors: tuple[Factor, ...], array: NDArray[np.float64], order: int) -> tuple[str, ...]:
    notes = [
        (
            "Main effects are clear of squares and of products of two factors; these lean on one "
            "another and can be told apart only if few are active."
        )
    ]
    if order > len(factors):
        notes.append(
            f"The {len(factors)} factors take as many of the {order} columns of a conference "
            "matrix; the others leave runs for error."
        )
    overlap = np.abs(np.triu(array.T @ array, 1)).max() / len(array)
    if overlap > 1e-9:
        notes.append(
            f"With categories the main effects overlap a little (up to {overlap:.2f}); each is "
            "still estimated clear of squares and products."
        )
    return tuple(notes)


def _order(n_factors: int, extra_pairs: int) -> int:
    if n_factors < 4:
        raise PlanError(
            f"There are {n_factors} factors.",
            why="Definitive screening is for four and more; with fewer it cannot tell squares "
            "apart from products.",
            next_step="Ask for a composite (wb.plan.composite) or Box–Behnken plan.",
        )
    smallest = conference_order(n_factors)
    if smallest is None:
        raise PlanError(
            f"There are {n_factors} factors to screen.",
            why=f"Conference matrices are built up to {MOST} columns.",
            next_step="Hold the factors that matter least, or screen at two levels "
            "(wb.plan.screening).",
        )
    order = conference_order(smallest + extra_pairs) if extra_pairs >= 0 else None
    if order is None:
        raise PlanError(
            f"{extra_pairs} extra pairs were asked for with {n_factors} factors.",
            why=f"Conference matrices are built up to {MOST} columns.",
            next_step=f"Ask for 0 to {MOST - smallest} extra pairs.",
        )
    return order
