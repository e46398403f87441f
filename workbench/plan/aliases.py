"""Aliases: what an estimate also holds of terms that the model leaves out, in size and sign."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import is_numeric
from workbench.define.model_matrix import model_matrix
from workbench.define.terms import Term, Terms, sorted_terms
from workbench.errors import PlanError
from workbench.numerics.least_squares import factored, solved

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.define.model_matrix import ModelMatrix
    from workbench.define.settings import Settings

NOTHING = 1e-9  # smaller entries of an alias matrix are rounding


@dataclass(frozen=True, slots=True, kw_only=True)
class Alias:
    """What the estimate of `term` also holds: its own coefficient + size × that of each other.

    Sizes are in coded units; between categories of more than two levels the entry of greatest
    size stands for the pair.
    """

    term: Term
    with_terms: tuple[tuple[Term, float], ...]

    def __str__(self) -> str:
        """Write it as a sum in the user's names, such as `dwell + 0.5 (tip × feed)`."""
        rest = "".join(f" {'+' if s > 0 else '−'} {_sized(t, s)}" for t, s in self.with_terms)
        return f"{self.term}{rest}"


def aliases(terms: Terms, settings: Settings, against: Terms | None = None) -> tuple[Alias, ...]:
    """Return the aliases of the mean and every term, in coded units.

    The alias matrix is (X₁′X₁)⁻¹X₁′X₂ with X₁ the columns of the model and X₂ those of the
    doubted terms (Box and Wilson 1951, JRSS B 13, 1-45); by default these are all products of
    two and three factors and all squares that the model leaves out.

    Raises
    ------
    PlanError
        If terms of the model cannot be told apart from one another.
    """
    model = model_matrix(terms, settings)
    refuse_mixed(groups_of(model.X, [model.terms[t] for t in model.term]))
    left_out = against or doubted(terms, settings.factors)
    other = model_matrix(left_out, settings)
    matrix = solved(factored(model.X), other.X).estimates
    return tuple(
        Alias(term=one, with_terms=_sizes(matrix[model.columns_of(one)], left_out, other))
        for one in model.terms
    )


def doubted(terms: Terms, factors: tuple[Factor, ...]) -> Terms:
    """Return the products of two and three factors and the squares that a model leaves out."""
    found = {
        Term(powers=tuple((f.name, 1) for f in group))
        for size in (2, 3)
        for group in combinations(factors, size)
    }
    found |= {Term(powers=((f.name, 2),)) for f in factors if is_numeric(f)}
    rest = sorted_terms(found - set(terms.terms), factors)
    return Terms(terms=rest, asked="products and squares left out")


def cannot_be_told_apart(terms: Terms, settings: Settings) -> tuple[tuple[Term, ...], ...]:
    """Return the groups of terms (the mean among them) whose columns depend on one another."""
    model = model_matrix(terms, settings)
    groups = groups_of(model.X, [model.terms[t] for t in model.term])
    return tuple(tuple(one for one in group if isinstance(one, Term)) for group in groups)


def groups_of(
    X: NDArray[np.float64], owners: list[Term | str] | list[Term]
) -> tuple[tuple[Term | str, ...], ...]:
    """Return the groups of owners whose columns in X (n, p) depend on one another."""
    whole = factored(X)
    groups: list[set[Term | str]] = []
    for column in np.flatnonzero(~whole.kept):
        partners = np.flatnonzero(np.abs(whole.combination[:, column]) > NOTHING)
        group = {owners[column], *(owners[p] for p in partners if whole.kept[p])}
        touching = [one for one in groups if one & group]
        groups = [one for one in groups if one not in touching]
        groups.append(group.union(*touching))
    place = {owner: i for i, owner in reversed(list(enumerate(owners)))}
    ordered = [tuple(sorted(group, key=place.__getitem__)) for group in groups]
    return tuple(sorted(ordered, key=lambda group: place[group[0]]))


def refuse_mixed(groups: tuple[tuple[Term | str, ...], ...]) -> None:
    """Refuse a model of which the runs cannot tell terms apart.

    Raises
    ------
    PlanError
        If there is a group; the message lists them in the user's names.
    """
    if not groups:
        return
    lines = "; ".join(_together(group) for group in groups[:6])
    more = f"; and {len(groups) - 6} more groups" if len(groups) > 6 else ""
    raise PlanError(
        f"These runs cannot tell apart: {lines}{more}.",
        why="The model asks for each of them by itself, and one number cannot answer for two.",
        next_step="Leave all but one of each group out of the terms, or ask for more runs.",
    )


def _together(group: tuple[Term | str, ...]) -> str:
    *others, last = [str(one) for one in group]
    return f"{', '.join(others)} and {last}" if others else f"{last} (not estimable at all)"


def _sizes(
    rows: NDArray[np.float64], left_out: Terms, other: ModelMatrix
) -> tuple[tuple[Term, float], ...]:
    found = []
    for one in left_out.terms:
        entries = rows[:, other.columns_of(one)].ravel()
        largest = float(entries[np.argmax(np.abs(entries))])
        if abs(largest) > NOTHING:
            found.append((one, largest))
    return tuple(found)


def _sized(term: Term, size: float) -> str:
    amount = abs(size)
    if abs(amount - 1) < NOTHING:
        return str(term)
    return f"{amount:.3g} ({term})"
