"""Degrees of freedom that a plan leaves between the levels of a random term."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.numerics.least_squares import factored

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.numerics.random_terms import RandomTerms

CONSTANT = 1e-9  # a column that moves less within a level does not change there


def stratum_df(terms: RandomTerms, columns: NDArray[np.bool_]) -> int | None:
    """Return the levels left for error where the marked columns (p,) of X change.

    That is the outermost random term within whose levels they stay constant: its levels, less
    the rank of all that is constant within them (Box and Jones 1992, Journal of Applied
    Statistics 19, 3-26). None where they change within the levels of every term.
    """
    for term in range(terms.n_terms):
        own = terms.Z[:, terms.owner == term]
        steady = _steady(terms.fixed.X, own)
        if steady[columns].all():
            outer = [
                other
                for one in range(terms.n_terms)
                if one != term and _steady(other := terms.Z[:, terms.owner == one], own).all()
            ]
            held = np.column_stack([terms.fixed.X[:, steady], *outer])
            return int(own.shape[1]) - factored(held).rank
    return None


def _steady(X: NDArray[np.float64], levels: NDArray[np.float64]) -> NDArray[np.bool_]:
    means = (levels.T @ X) / levels.sum(axis=0)[:, None]
    return np.asarray(np.abs(X - levels @ means).max(axis=0) < CONSTANT)
