"""Tests of terms with their products left out: the average question, asked by itself."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.fit.core import core
from workbench.fit.matrix import fit_matrix
from workbench.fit.term_tests import tested
from workbench.numerics.least_squares import factored, solved

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from workbench.define.terms import Term
    from workbench.fit.core import Core
    from workbench.fit.measured import MeasuredFit
    from workbench.fit.nouns import TermTest


def tests_without_products(fit: MeasuredFit) -> tuple[TermTest, ...]:
    """Return the test of each term adjusted for all terms that do not contain it.

    The error is that of the whole model. In a balanced plan these are the tests of the fit; where
    cells differ in size they ask whether a factor matters if its products do not (Langsrud 2003,
    Statistics and Computing 13, 163-167). Empty where no term contains another.
    """
    matrix = fit_matrix(fit.terms, fit.settings, (fit.block, fit.block_labels))
    if not any(_containing(matrix.tested, term) for term in matrix.tested):
        return ()
    whole = core(matrix, fit.response)
    return tuple(_without(whole, term) for term in matrix.tested)


def _without(whole: Core, term: Term) -> TermTest:
    left_out = _containing(whole.matrix.tested, term)
    larger = _places(whole, left_out)
    smaller = _places(whole, (*left_out, term))
    response = whole.response - whole.response.mean()
    with_term, without = factored(whole.matrix.X[:, larger]), factored(whole.matrix.X[:, smaller])
    squares = float(solved(without, response).rss) - float(solved(with_term, response).rss)
    return tested(whole, (term, with_term.rank - without.rank, max(squares, 0.0)))


def _containing(terms: Sequence[Term], term: Term) -> tuple[Term, ...]:
    """Return the products and powers that hold a term as a factor of theirs."""
    own = dict(term.powers)
    return tuple(
        other
        for other in terms
        if other != term
        and all(dict(other.powers).get(name, 0) >= power for name, power in own.items())
    )


def _places(whole: Core, left_out: Sequence[Term]) -> NDArray[np.intp]:
    out = [whole.matrix.terms.index(term) for term in left_out]
    return np.flatnonzero(~np.isin(whole.matrix.term, out))
