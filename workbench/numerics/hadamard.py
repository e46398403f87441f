"""Hadamard and conference matrices: what two-level arrays and definitive screening stand on."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

import numpy as np
import scipy  # its parts load when a function of theirs is first called

from workbench.numerics.galois import jacobsthal, prime_power

if TYPE_CHECKING:
    from numpy.typing import NDArray

# Symmetric circulants of Williamson's array of order 92 (found by search over the 23 places).
WILLIAMSON_92 = (
    "+--++-+-+-++++-+-+-++--",
    "+++---++--++++--++---++",
    "+--+-+-++++++++++-+-+--",
    "+--+--+++------+++--+--",
)


@cache
def hadamard(order: int) -> NDArray[np.int64]:
    """Return a matrix (order, order) of ±1 with H′H = order × I, first column +1.

    Orders 1, 2 and the multiples of four up to 100, by Paley (1933), doubling (Sylvester 1867)
    and, for 92, Williamson (1944, Duke Mathematical Journal 11, 65-81).
    """
    matrix = _hadamard(order)
    matrix = matrix * matrix[:, :1]
    if not np.array_equal(matrix.T @ matrix, order * np.eye(order, dtype=np.int64)):
        raise AssertionError(f"the construction of order {order} is not orthogonal")
    matrix.setflags(write=False)
    return matrix


def has_hadamard(order: int) -> bool:
    """Return whether `hadamard` builds this order."""
    return order in (1, 2) or (order % 4 == 0 and 4 <= order <= 100)


def _hadamard(order: int) -> NDArray[np.int64]:
    if not has_hadamard(order):
        raise ValueError(f"no Hadamard matrix of order {order} is built")
    if order == 1:
        return np.ones((1, 1), dtype=np.int64)
    if order == 92:
        return _williamson()
    if order > 2 and _is_odd_prime_power(order - 1):
        return _paley_one(order - 1)
    if order > 2 and order % 4 == 0 and _is_paley_two(order // 2 - 1):
        return _paley_two(order // 2 - 1)
    half = _hadamard(order // 2)
    return np.block([[half, half], [half, -half]])


def _is_odd_prime_power(q: int) -> bool:
    return q % 2 == 1 and q > 2 and prime_power(q) is not None


def _is_paley_two(q: int) -> bool:
    return q % 4 == 1 and q > 4 and prime_power(q) is not None


def _paley_one(q: int) -> NDArray[np.int64]:
    core = np.zeros((q + 1, q + 1), dtype=np.int64)
    core[0, 1:] = 1
    core[1:, 0] = -1
    core[1:, 1:] = jacobsthal(q)
    return core + np.eye(q + 1, dtype=np.int64)


def _paley_two(q: int) -> NDArray[np.int64]:
    core = _symmetric_conference(q)
    eye = np.eye(q + 1, dtype=np.int64)
    return np.kron(core, np.array([[1, 1], [1, -1]])) + np.kron(eye, np.array([[1, -1], [-1, -1]]))


def _williamson() -> NDArray[np.int64]:
    a, b, c, d = (
        scipy.linalg.circulant([1 if sign == "+" else -1 for sign in row]).astype(np.int64)
        for row in WILLIAMSON_92
    )
    return np.block([[a, b, c, d], [-b, a, -d, c], [-c, d, a, -b], [-d, -c, b, a]])


@cache
def conference(order: int) -> NDArray[np.int64]:
    """Return a matrix (order, order), 0 on the diagonal and ±1 elsewhere, with C′C = (order−1) I.

    Even orders 4 to 32 other than 22, for which none exists (21 is not a sum of two squares;
    Belevitch 1950, Electrical Communication 27, 231-244). Paley (1933); order 16 by doubling a
    skew matrix of order 8.
    """
    if order == 22:
        raise ValueError("no conference matrix of order 22 exists")
    matrix = _conference(order)
    if not np.array_equal(matrix.T @ matrix, (order - 1) * np.eye(order, dtype=np.int64)):
        raise AssertionError(f"the construction of order {order} is not a conference matrix")
    matrix.setflags(write=False)
    return matrix


def has_conference(order: int) -> bool:
    """Return whether `conference` builds this order."""
    return order % 2 == 0 and 4 <= order <= 32 and order != 22


def _conference(order: int) -> NDArray[np.int64]:
    if not has_conference(order):
        raise ValueError(f"no conference matrix of order {order} is built")
    q = order - 1
    if not _is_odd_prime_power(q):
        half = _conference(order // 2)
        eye = np.eye(order // 2, dtype=np.int64)
        return np.block([[half, half + eye], [half - eye, -half]])
    if q % 4 == 1:
        return _symmetric_conference(q)
    core = np.zeros((order, order), dtype=np.int64)
    core[0, 1:] = 1
    core[1:, 0] = -1
    core[1:, 1:] = jacobsthal(q)
    return core


def _symmetric_conference(q: int) -> NDArray[np.int64]:
    core = np.zeros((q + 1, q + 1), dtype=np.int64)
    core[0, 1:] = core[1:, 0] = 1
    core[1:, 1:] = jacobsthal(q)
    return core
