"""Screening arrays: two levels from Hadamard matrices, three from conference matrices."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from workbench.numerics.hadamard import conference, hadamard, has_conference

if TYPE_CHECKING:
    from numpy.typing import NDArray


def two_level_array(n_runs: int, n_factors: int) -> NDArray[np.int64]:
    """Return an orthogonal two-level array (n_runs, n_factors) of ±1.

    n_runs is a multiple of four from 4 to 100 and n_factors below it (Plackett and Burman 1946,
    Biometrika 33, 305-325).
    """
    if n_factors >= n_runs:
        raise ValueError(f"{n_runs} runs carry at most {n_runs - 1} factors")
    return hadamard(n_runs)[:, 1 : n_factors + 1]


def projectivity(array: NDArray[np.int64]) -> int:
    """Return the largest p (up to 4) such that every p factors show a full factorial.

    Box and Tyssedal (1996, Biometrika 83, 950-955).
    """
    n_factors = array.shape[1]
    bits = (array > 0).astype(np.int64)
    best = 0
    for p in range(1, min(4, n_factors) + 1):
        weights = 2 ** np.arange(p)
        for chosen in combinations(range(n_factors), p):
            if np.unique(bits[:, chosen] @ weights).size < 2**p:
                return best
        best = p
    return best


def definitive_array(n_factors: int, *, n_extra: int = 0) -> NDArray[np.int64]:
    """Return the runs (2m + 1, n_factors) of a definitive screening plan: C, −C and one centre.

    m is the smallest order of a conference matrix that holds n_factors + n_extra columns
    (Jones and Nachtsheim 2011, Journal of Quality Technology 43, 1-15; Xiao, Lin and Bai 2012,
    44, 2-8). Main effects are clear of each other, of squares and of interactions of two.
    """
    order = conference_order(n_factors + n_extra)
    columns = conference(order)[:, :n_factors]
    return np.vstack([columns, -columns, np.zeros((1, n_factors), dtype=np.int64)])


def conference_order(n_columns: int) -> int:
    """Return the smallest order of a conference matrix with at least this many columns."""
    order = max(4, n_columns + n_columns % 2)
    while not has_conference(order):
        order += 2
        if order > 32:
            raise ValueError(f"no conference matrix is built for {n_columns} factors")
    return order
