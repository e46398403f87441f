"""Which polynomial terms a model leaves out: the columns of its model-form term."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.define.model_matrix import model_matrix
from workbench.numerics.monomials import exponents_of_order

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.factors import Numeric
    from workbench.define.settings import Settings
    from workbench.define.terms import Terms

ORDERS = (2, 3)  # what a second-order model leaves out is of third order, a first-order one both
BETWEEN = 0.15  # of the span tried: settings wander, and a run this near an end is no middle


def tried_exponents(
    terms: Terms, settings: Settings, factors: tuple[Numeric, ...]
) -> NDArray[np.int64]:
    """Return the exponents (p, k) of the numeric factors in each column of the model matrix."""
    matrix = model_matrix(terms, settings.rows(np.array([0])))
    powers = [dict(one.powers) for one in matrix.terms]
    rows = [[powers[index].get(one.name, 0) for one in factors] for index in matrix.term]
    return np.array(rows, dtype=np.int64).reshape(len(rows), len(factors))


def left_out_exponents(tried: NDArray[np.int64], coded: NDArray[np.float64]) -> NDArray[np.int64]:
    """Return the exponents (m, k) of second- and third-order products that are not in the model.

    For three factors and a full second-order model these are the 10 of third order. `coded`
    (n, k) are the runs: a power above one of a factor tried at two levels only is not among
    them, because nothing at all was seen of it; who claims anything between the two levels has
    to accept straightness in words instead. Products with a category are not among them: the
    left-out curve is taken to be the same at every level.
    """
    known = {tuple(row) for row in tried.tolist()}
    straight = ~np.array([is_tried_between(column) for column in coded.T], dtype=bool)
    rows = [
        row
        for order in ORDERS
        for row in exponents_of_order(coded.shape[1], order).tolist()
        if tuple(row) not in known and not (np.array(row)[straight] > 1).any()
    ]
    return np.array(rows, dtype=np.int64).reshape(len(rows), coded.shape[1])


def is_tried_between(values: NDArray[np.float64]) -> bool:
    """Return whether any run lies well between the ends of the range that was tried."""
    low, high = float(values.min()), float(values.max())
    margin = BETWEEN * (high - low)
    return bool(((values > low + margin) & (values < high - margin)).any())
