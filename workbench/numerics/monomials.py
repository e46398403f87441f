"""Products of powers and their derivatives, for surfaces that are polynomials."""

from __future__ import annotations

from itertools import combinations_with_replacement
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray


def monomials(
    x: NDArray[np.float64], exponents: NDArray[np.int64], by: Sequence[int] = ()
) -> NDArray[np.float64]:
    """Return the products (n, q) of x (n, k) to the exponents (q, k), differentiated by axes.

    `by` lists the axes to differentiate by, one after the other: `(0, 0)` is the second
    derivative along the first axis.

    Examples
    --------
    >>> monomials(np.array([[3.0, 2.0]]), np.array([[2, 1]]), by=(0,))
    array([[12.]])
    """
    left = np.array(exponents)
    factor = np.ones(left.shape[0])
    for axis in by:
        factor *= left[:, axis]
        left[:, axis] = np.maximum(left[:, axis] - 1, 0)
    product = np.repeat(factor[:, None], x.shape[0], axis=1)
    for axis in range(x.shape[1]):
        power = np.ones(x.shape[0])
        for exponent in range(1, int(left[:, axis].max(initial=0)) + 1):
            power = power * x[:, axis]
            product[left[:, axis] == exponent] *= power
    return np.ascontiguousarray(product.T)


def exponents_of_order(n_axes: int, order: int) -> NDArray[np.int64]:
    """Return the exponents (q, n_axes) of every product of that total order.

    Examples
    --------
    >>> exponents_of_order(2, 2).tolist()
    [[2, 0], [1, 1], [0, 2]]
    """
    rows = [
        [chosen.count(axis) for axis in range(n_axes)]
        for chosen in combinations_with_replacement(range(n_axes), order)
    ]
    return np.array(rows, dtype=np.int64).reshape(len(rows), n_axes)
