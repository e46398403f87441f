"""The coded polynomial expanded in the units of the factors."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from math import comb
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical
from workbench.define.terms import MEAN, Term

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.factors import Factor, Numeric
    from workbench.define.terms import Terms

ABSENT = -1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NaturalColumns:
    """Natural-unit columns: coefficient i is weights[i] @ the coded estimates (blocks apart).

    The model's own columns come first and in its order, so `weights` (q, p) has q ≥ p.
    """

    names: tuple[str, ...]
    terms: tuple[Term, ...]
    weights: NDArray[np.float64]

    def __post_init__(self) -> None:
        self.weights.setflags(write=False)


# One piece of a column: factor name, power, index of the level (ABSENT for a numeric factor).
_Piece = tuple[str, int, int]
_Column = tuple[_Piece, ...]


def natural_columns(terms: Terms, factors: tuple[Factor, ...]) -> NaturalColumns:
    """Return how coefficients in natural units follow from those in coded units.

    A numeric factor is coded (x − middle) / half range, so its powers expand by the binomial
    theorem; columns of categories stay as they are.
    """
    known = {factor.name: factor for factor in factors}
    own = [column for one in (MEAN, *terms.terms) for column in _columns(one, known)]
    found: dict[_Column, dict[int, float]] = {column: {} for column in own}
    for place, column in enumerate(own):
        for lower, weight in _expanded(column, known):
            found.setdefault(lower, {})[place] = weight
    weights = np.zeros((len(found), len(own)))
    for i, parts in enumerate(found.values()):
        for place, weight in parts.items():
            weights[i, place] = weight
    return NaturalColumns(
        names=tuple(_name(column, known) for column in found),
        terms=tuple(Term(powers=tuple((n, p) for n, p, _ in column)) for column in found),
        weights=weights,
    )


def _columns(term: Term, known: dict[str, Factor]) -> list[_Column]:
    choices: list[list[_Piece]] = []
    for name, power in term.powers:
        factor = known[name]
        if isinstance(factor, Categorical):
            choices.append([(name, 1, level) for level in range(len(factor.levels) - 1)])
        else:
            choices.append([(name, power, ABSENT)])
    return list(product(*choices))


def _expanded(column: _Column, known: dict[str, Factor]) -> list[tuple[_Column, float]]:
    sums: list[tuple[_Column, float]] = [((), 1.0)]
    for name, power, level in column:
        factor = known[name]
        if isinstance(factor, Categorical):
            sums = [((*lower, (name, 1, level)), weight) for lower, weight in sums]
        else:
            sums = _times_power(sums, factor, power)
    return sums


def _times_power(
    sums: list[tuple[_Column, float]], factor: Numeric, power: int
) -> list[tuple[_Column, float]]:
    middle, half = (factor.low + factor.high) / 2, (factor.high - factor.low) / 2
    found: list[tuple[_Column, float]] = []
    for lower, weight in sums:
        for k in range(power, -1, -1):
            size = comb(power, k) * (-middle) ** (power - k) / half**power
            piece: _Column = ((factor.name, k, ABSENT),) if k else ()
            if size:
                found.append(((*lower, *piece), weight * size))
    return found


def _name(column: _Column, known: dict[str, Factor]) -> str:
    words = []
    for name, power, level in column:
        factor = known[name]
        if isinstance(factor, Categorical):
            words.append(f"{name} [{factor.levels[level]}]")
        else:
            words.append(name + {1: "", 2: "²", 3: "³"}.get(power, f"^{power}"))
    return " × ".join(words) or "constant"
