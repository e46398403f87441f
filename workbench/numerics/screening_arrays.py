"""Screening arrays: two levels from Hadamard matrices, three from conference matrices."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from workbench.numerics.hadamard import conference, hadamard, has_conference, has_hadamard

if TYPE_CHECKING:
    from numpy.typing import NDArray


def two_level_array(n_runs: int, n_factors: int) -> NDArray[np.int64]:
    """Return an orthogonal two-level array (n_runs, n_factors) of ±1.

    n_runs is a multiple of four from 4 to 100 and n_factors below it (Plackett and Burman 1946,
    Biometrika 33, 305-325). Where half the runs would do for the factors, the array is that
    half and its mirror image, so that main effects are clear of products of two (Box and
    Wilson 1951, JRSS B 13, 1-45).
    """
    if n_factors >= n_runs:
        raise ValueError(f"{n_runs} runs carry at most {n_runs - 1} factors")
    half = n_runs // 2
    if half > 2 and n_factors <= half and has_hadamard(half):
        columns = hadamard(half)[:, :n_factors]
        return np.vstack([columns, -columns])
    return hadamard(n_runs)[:, 1 : n_factors + 1]


def projectivity(array: NDArray[np.int64], *, most: int = 4) -> int:
    """Return the largest p up to `most` such that every p factors show a full factorial.

    (Box and Tyssedal 1996, Biometrika 83, 950-955.)
    """
    n_factors = int(array.shape[1])
    bits = (array > 0).astype(np.int64)
    for p in range(1, min(most, n_factors) + 1):
        for first in combinations(range(n_factors), p - 1):
            # The first p − 1 factors with each later one, all at once.
            start = first[-1] + 1 if first else 0
            code = bits[:, first] @ 2 ** np.arange(1, p) if first else 0
            codes = bits[:, start:] + np.reshape(code, (-1, 1))
            if not all((codes == one).any(axis=0).all() for one in range(2**p)):
                return p - 1
    return min(most, n_factors)


def definitive_array(n_factors: int, *, order: int) -> NDArray[np.int64]:
    """Return the runs (2 order + 1, n_factors) of a definitive screening plan.

    They are n_factors columns of a conference matrix of that order, their mirror image and one
    centre run (Jones and Nachtsheim 2011, Journal of Quality Technology 43, 1-15; Xiao, Lin and
    Bai 2012, 44, 2-8). Main effects are clear of each other, of squares and of products of two.
    """
    columns = conference(order)[:, :n_factors]
    return np.vstack([columns, -columns, np.zeros((1, n_factors), dtype=np.int64)])


def conference_order(n_columns: int) -> int | None:
    """Return the smallest order of a conference matrix with at least this many columns."""
    start = max(4, n_columns + n_columns % 2)
    return next((order for order in range(start, 33, 2) if has_conference(order)), None)
