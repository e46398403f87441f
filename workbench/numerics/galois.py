"""Finite fields, as far as Paley's constructions need them."""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray


def prime_power(q: int) -> tuple[int, int] | None:
    """Return (p, m) with q = pᵐ and p prime, or None where q is no prime power."""
    if q < 2:
        return None
    p = next(d for d in range(2, q + 1) if q % d == 0)
    rest, m = q, 0
    while rest % p == 0:
        rest, m = rest // p, m + 1
    return (p, m) if rest == 1 else None


def jacobsthal(q: int) -> NDArray[np.int64]:
    """Return the matrix (q, q) of χ(a − b) over GF(q), χ the quadratic character.

    χ is 0 at 0, +1 at squares and −1 elsewhere (Paley 1933, Journal of Mathematics and Physics
    12, 311-320). q is the power of an odd prime with exponent up to 3.
    """
    found = prime_power(q)
    if found is None or q % 2 == 0 or found[1] > 3:
        raise ValueError(f"no quadratic character is built for {q} elements")
    p, m = found
    elements = list(product(range(p), repeat=m))
    modulus = _irreducible(p, m)
    squares = {_multiply(e, e, modulus, p) for e in elements if any(e)}

    def character(e: tuple[int, ...]) -> int:
        return 0 if not any(e) else 1 if e in squares else -1

    return np.array(
        [
            [character(tuple((x - y) % p for x, y in zip(a, b, strict=True))) for b in elements]
            for a in elements
        ],
        dtype=np.int64,
    )


def _irreducible(p: int, m: int) -> tuple[int, ...]:
    """Return low-to-high coefficients c of xᵐ = c, where xᵐ − c has no root (m ≤ 3).

    A polynomial of degree two or three without a root has no factor.
    """
    for lower in product(range(p), repeat=m):
        if m == 1:
            return lower
        values = [(x**m - sum(c * x**i for i, c in enumerate(lower))) % p for x in range(p)]
        if all(values):
            return lower
    raise ValueError(f"no irreducible polynomial of degree {m} over {p}")


def _multiply(
    a: tuple[int, ...], b: tuple[int, ...], modulus: tuple[int, ...], p: int
) -> tuple[int, ...]:
    m = len(a)
    whole = [0] * (2 * m - 1)
    for i, x in enumerate(a):
        for j, y in enumerate(b):
            whole[i + j] += x * y
    for high in range(2 * m - 2, m - 1, -1):
        for i, c in enumerate(modulus):
            whole[high - m + i] += whole[high] * c
    return tuple(w % p for w in whole[:m])
