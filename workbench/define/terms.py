"""Terms: the polynomial model that is asked for, closed under heredity."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, product
from typing import TYPE_CHECKING

from workbench.define.factors import Categorical, Component, Stepped
from workbench.errors import DefinitionError

if TYPE_CHECKING:
    from workbench.define.factors import Factor

PRESETS = ("first-order", "interactions", "second-order")


def raised(power: int) -> str:
    """Return a power as it is written behind a name: nothing, ², ³ or ^4."""
    return {1: "", 2: "²", 3: "³"}.get(power, f"^{power}")


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Term:
    """A product of factors to powers; the empty product is the mean (intercept).

    `powers` lists (factor name, power ≥ 1) in the order of the trial's factors.
    """

    powers: tuple[tuple[str, int], ...]

    @property
    def order(self) -> int:
        """Sum of the powers: 0 for the mean, 1 for a main effect."""
        return sum(power for _, power in self.powers)

    @property
    def factors(self) -> tuple[str, ...]:
        """Names of the factors in it."""
        return tuple(name for name, _ in self.powers)

    def __str__(self) -> str:
        """Write it as on every screen, such as `bead volume × dwell` or `dwell²`."""
        return " × ".join(name + raised(power) for name, power in self.powers) or "mean"


MEAN = Term(powers=())


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """The terms of a model without the mean, lower orders first; `asked` is how it was asked."""

    terms: tuple[Term, ...]
    asked: str

    def __len__(self) -> int:
        return len(self.terms)

    def __str__(self) -> str:
        return ", ".join(str(term) for term in self.terms)


def term(*powers: tuple[str, int], factors: tuple[Factor, ...]) -> Term:
    """Return a term of known factors, powers of one factor added up.

    Raises
    ------
    DefinitionError
        If a factor is unknown, or a categorical one is raised to a power.
    """
    names = [factor.name for factor in factors]
    total: dict[str, int] = {}
    for name, power in powers:
        if name not in names:
            raise DefinitionError(
                f"The term names {name!r}, which is no factor of this trial.",
                why="Only factors can stand in a model.",
                next_step=f"Use: {', '.join(names)}.",
            )
        total[name] = total.get(name, 0) + power
    for factor in factors:
        if isinstance(factor, Categorical) and total.get(factor.name, 0) > 1:
            raise DefinitionError(
                f"The term squares {factor.name!r}, whose levels are names.",
                why="A category has no scale to bend.",
                next_step=f"Write {factor.name} alone, or in a product with another factor.",
            )
        if isinstance(factor, Component) and total.get(factor.name, 0) > 1:
            raise DefinitionError(
                f"The term squares {factor.name!r}, which is a share of a mixture.",
                why="Its square is the share less its products with the others.",
                next_step=f"Write products of two, such as {factor.name} with another component.",
            )
    ordered = sorted(total.items(), key=lambda item: names.index(item[0]))
    return Term(powers=tuple(ordered))


def preset(asked: str, factors: tuple[Factor, ...]) -> Terms:
    """Return first-order, interactions (with all products of two) or second-order terms.

    Second order squares every numeric factor with three or more settings.

    Raises
    ------
    DefinitionError
        If the preset is unknown.
    """
    if asked not in PRESETS:
        raise DefinitionError(
            f"The model {asked!r} is not known.",
            why="A model is a preset or a list of terms.",
            next_step=f"Use {', '.join(PRESETS)}, or a list such as a, b, a * b, a^2.",
        )
    found = [Term(powers=((f.name, 1),)) for f in factors]
    if asked != "first-order":
        found += [Term(powers=((a.name, 1), (b.name, 1))) for a, b in combinations(factors, 2)]
    if asked == "second-order":
        found += [Term(powers=((f.name, 2),)) for f in factors if _can_bend(f)]
    return Terms(terms=tuple(found), asked=asked)


def _can_bend(factor: Factor) -> bool:
    if isinstance(factor, Stepped):
        return len(factor.steps) > 2
    return not isinstance(factor, Categorical | Component)


def full_factorial(factors: tuple[Factor, ...]) -> Terms:
    """Return all products of distinct factors, up to the product of all of them."""
    found = [
        Term(powers=tuple((f.name, 1) for f in group))
        for size in range(1, len(factors) + 1)
        for group in combinations(factors, size)
    ]
    return Terms(terms=tuple(found), asked="all products")


def parents(one: Term) -> tuple[Term, ...]:
    """Return every term that divides it, other than the mean and itself."""
    ranges = [range(power + 1) for _, power in one.powers]
    found = []
    for chosen in product(*ranges):
        powers = tuple((name, p) for (name, _), p in zip(one.powers, chosen, strict=True) if p > 0)
        if powers and powers != one.powers:
            found.append(Term(powers=powers))
    return tuple(found)


def with_heredity(asked: Terms, factors: tuple[Factor, ...]) -> Terms:
    """Return the terms with all their parents added (strong heredity), sorted by order.

    A model without the parents of a term changes its meaning with the coding of the factors
    (Peixoto 1990, The American Statistician 44, 26-30).
    """
    wanted = set(asked.terms)
    for one in asked.terms:
        wanted.update(parents(one))
    return Terms(terms=sorted_terms(wanted, factors), asked=asked.asked)


def sorted_terms(terms: set[Term], factors: tuple[Factor, ...]) -> tuple[Term, ...]:
    """Return terms by order, then products before squares, then in the order of the factors."""
    place = {factor.name: i for i, factor in enumerate(factors)}

    def key(one: Term) -> tuple[int, bool, tuple[tuple[int, int], ...]]:
        # The powers as well: a² × b and a × b² would otherwise tie and stand as the set has them.
        where = tuple((place[name], -power) for name, power in one.powers)
        return one.order, max((p for _, p in one.powers), default=0) > 1, where

    return tuple(sorted(terms, key=key))
