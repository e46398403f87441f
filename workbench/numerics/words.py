"""Defining words of two-level fractions: arithmetic of factor sets modulo two.

A column of a two-level array of 2^r runs is named by an integer: bit i says whether basic
factor i stands in its product, so 7 is the product of the first three. A set of factors is an
integer too, bit j for factor j. Products of columns are exclusive ors of their names
(Box and Hunter 1961, Technometrics 3, 311-351).
"""

from __future__ import annotations

from itertools import combinations
from math import comb
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray


def signs(columns: tuple[int, ...], n_basic: int) -> NDArray[np.float64]:
    """Return the columns (2^n_basic, k) of −1 and +1, basic factor i changing every 2^i runs.

    Each column is the plain product of its basic factors, so every defining word is +1.
    """
    runs = np.arange(2**n_basic)
    basic = np.where((runs[:, None] >> np.arange(n_basic)) & 1, 1.0, -1.0)
    answer = np.ones((runs.size, len(columns)))
    for j, column in enumerate(columns):
        members = [i for i in range(n_basic) if column >> i & 1]
        answer[:, j] = basic[:, members].prod(axis=1)
    return answer


def product_of(columns: tuple[int, ...], members: tuple[int, ...]) -> int:
    """Return the name of the product of the columns at places `members`; 0 is the mean."""
    name = 0
    for place in members:
        name ^= columns[place]
    return name


def generators(columns: tuple[int, ...], n_basic: int) -> tuple[tuple[int, tuple[int, ...]], ...]:
    """Return (place of an added factor, places of the factors whose product it is) pairs.

    The first n_basic columns must be the basic ones, 1, 2, 4 and so on.
    """
    return tuple(
        (j, tuple(i for i in range(n_basic) if columns[j] >> i & 1))
        for j in range(n_basic, len(columns))
    )


def defining_words(columns: tuple[int, ...], n_basic: int) -> NDArray[np.int64]:
    """Return all 2^(k − n_basic) − 1 defining words as sets of factors (bit j: factor j)."""
    words = np.zeros(1, dtype=np.int64)
    for place, members in generators(columns, n_basic):
        word = (1 << place) | sum(1 << i for i in members)
        words = np.concatenate([words, words ^ word])
    return words[1:]


def word_lengths_by_listing(columns: tuple[int, ...], n_basic: int) -> tuple[int, ...]:
    """Return the numbers of defining words of length 1 … k, every word listed."""
    lengths = np.bitwise_count(defining_words(columns, n_basic))
    return tuple(int(n) for n in np.bincount(lengths, minlength=len(columns) + 1)[1:])


def word_lengths_by_transform(columns: tuple[int, ...], n_basic: int) -> tuple[int, ...]:
    """Return the numbers of defining words of length 1 … k without listing them.

    The runs are a linear code and the words its dual: a Walsh transform gives the weights of
    the runs, the identity of MacWilliams (1963, Bell System Technical Journal 42, 79-94) those
    of the words.
    """
    k, n = len(columns), 2**n_basic
    indicator = np.bincount(np.array(columns, dtype=np.int64), minlength=n)
    weights = (k - _walsh(indicator)) // 2
    runs_of_weight = np.bincount(weights, minlength=k + 1)
    totals = [
        sum(int(count) * _krawtchouk(k, j, w) for w, count in enumerate(runs_of_weight))
        for j in range(1, k + 1)
    ]
    return tuple(total // n for total in totals)


def resolution_of(array: NDArray[np.float64]) -> int | None:
    """Return the least number of columns (n, k) whose product does not sum to zero.

    None if there is no such product: a full factorial. For a fraction it is the resolution,
    found from the runs as they stand.
    """
    k = array.shape[1]
    for size in range(1, k + 1):
        groups = np.array(list(combinations(range(k), size)))
        products = np.ones((array.shape[0], len(groups)))
        for member in groups.T:
            products *= array[:, member]
        if bool((np.abs(products.sum(axis=0)) > 0.5).any()):
            return size
    return None


def _walsh(values: NDArray[np.int64]) -> NDArray[np.int64]:
    transformed = values.copy()
    half = 1
    while half < transformed.size:
        pairs = transformed.reshape(-1, 2, half)
        transformed = np.stack(
            [pairs[:, 0] + pairs[:, 1], pairs[:, 0] - pairs[:, 1]], axis=1
        ).reshape(-1)
        half *= 2
    return transformed


def _krawtchouk(k: int, j: int, w: int) -> int:
    return sum((-1) ** i * comb(w, i) * comb(k - w, j - i) for i in range(j + 1))
