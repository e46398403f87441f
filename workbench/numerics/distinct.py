"""Distinct numbers by sorting, which stays quick where nearly all of very many differ."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

Number = TypeVar("Number", np.int64, np.float64)


def distinct(numbers: NDArray[Number]) -> NDArray[Number]:
    """Return the distinct ones (m,) of finite numbers (n,), ascending.

    >>> distinct(np.array([3, 1, 3])).tolist()
    [1, 3]
    """
    ordered = np.sort(numbers)
    is_first = np.ones(ordered.size, dtype=np.bool_)
    is_first[1:] = ordered[1:] != ordered[:-1]
    return ordered[is_first]
