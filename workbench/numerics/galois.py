"""Finite fields, as far as Paley's constructions need them."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

Element = tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """The field of pᵐ elements, polynomials over p elements with xᵐ = `reduced` (low to high)."""

    p: int
    m: int
    reduced: Element

    def elements(self) -> list[Element]:
        """Return all elements, coefficients from low to high."""
        return list(product(range(self.p), repeat=self.m))

    def minus(self, a: Element, b: Element) -> Element:
        """Return a − b."""
        return tuple((x - y) % self.p for x, y in zip(a, b, strict=True))

    def square(self, a: Element) -> Element:
        """Return a², powers from xᵐ on reduced."""
        whole = [0] * (2 * self.m - 1)
        for i, x in enumerate(a):
            for j, y in enumerate(a):
                whole[i + j] += x * y
        for high in range(2 * self.m - 2, self.m - 1, -1):
            for i, c in enumerate(self.reduced):
                whole[high - self.m + i] += whole[high] * c
        return tuple(w % self.p for w in whole[: self.m])


def prime_power(q: int) -> tuple[int, int] | None:
    """Return (p, m) with q = pᵐ and p prime, or None where q is no prime power."""
    if q < 2:
        return None
    p = next(d for d in range(2, q + 1) if q % d == 0)
    rest, m = q, 0
    while rest % p == 0:
        rest, m = rest // p, m + 1
    return (p, m) if rest == 1 else None


def field_of(q: int) -> Field:
    """Return the field of q = pᵐ elements, m up to 3.

    Raises
    ------
    ValueError
        If q is no such prime power.
    """
    found = prime_power(q)
    if found is None or found[1] > 3:
        raise ValueError(f"no field of {q} elements is built")
    p, m = found
    return Field(p=p, m=m, reduced=_irreducible(p, m))


def jacobsthal(q: int) -> NDArray[np.int64]:
    """Return the matrix (q, q) of χ(a − b) over GF(q), χ the quadratic character.

    χ is 0 at 0, +1 at squares and −1 elsewhere (Paley 1933, Journal of Mathematics and Physics
    12, 311-320). q is the power of an odd prime with exponent up to 3.
    """
    if q % 2 == 0:
        raise ValueError(f"all {q} elements are squares")
    field = field_of(q)
    elements = field.elements()
    zero = elements[0]
    character = dict.fromkeys(elements, -1)
    character |= dict.fromkeys((field.square(e) for e in elements), 1)
    character[zero] = 0
    return np.array(
        [[character[field.minus(a, b)] for b in elements] for a in elements], dtype=np.int64
    )


def _irreducible(p: int, m: int) -> Element:
    """Return low-to-high coefficients c of xᵐ = c, where xᵐ − c has no root (m ≤ 3).

    A polynomial of degree two or three without a root has no factor; of degree one, any does.
    """
    for lower in product(range(p), repeat=m):
        values = [(x**m - sum(c * x**i for i, c in enumerate(lower))) % p for x in range(p)]
        if m == 1 or all(values):
            return lower
    raise ValueError(f"no irreducible polynomial of degree {m} over {p}")
