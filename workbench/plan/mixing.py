"""Which effects one plan mixes, in the user's names: wholly, or in part and by how much."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import is_numeric
from workbench.define.model_matrix import model_matrix
from workbench.define.terms import Term, Terms, sorted_terms
from workbench.plan.verify import block_columns

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.plan.plans import Plan

WHOLE = 1 - 1e-9  # of the information that two effects share
NOTHING = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Overlap:
    """Two effects that share information: the correlation of their columns, blocks taken out."""

    one: Term
    other: Term
    size: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Mixing:
    """What a plan mixes among main effects, products of two and squares.

    `groups` are effects that are one number; `with_blocks` those that the blocks take; `partly`
    pairs that share some, largest first. A column of a category counts by its worst pair.
    """

    groups: tuple[tuple[Term, ...], ...]
    with_blocks: tuple[Term, ...]
    partly: tuple[Overlap, ...]

    @property
    def lines(self) -> tuple[str, ...]:
        """The groups in words, such as `tip × dwell = feed × lot`."""
        return tuple(" = ".join(str(one) for one in group) for group in self.groups)

    @property
    def main_effects_are_clear(self) -> bool:
        """Whether no main effect shares anything with a product or square."""
        mains = {one for group in self.groups for one in group if one.order == 1}
        leaning = {t for o in self.partly for t in (o.one, o.other) if t.order == 1}
        return not mains and not leaning

    def largest_on_main_effects(self) -> float:
        """Return the largest share that a main effect has in another effect (1: mixed wholly)."""
        if any(one.order == 1 for group in self.groups for one in group):
            return 1.0
        touching = [o.size for o in self.partly if 1 in (o.one.order, o.other.order)]
        return max(map(abs, touching), default=0.0)


def mixing(plan: Plan) -> Mixing:
    """Return which of all main effects, products of two and squares the plan mixes."""
    terms = second_order_terms(plan.settings.factors)
    model = model_matrix(terms, plan.settings)
    base = np.hstack([np.ones((len(plan), 1)), block_columns(plan.block)])
    raw = model.X[:, 1:] - model.X[:, 1:].mean(axis=0)
    Q = np.linalg.qr(base)[0]
    left = raw - Q @ (Q.T @ raw)
    before, after = np.linalg.norm(raw, axis=0), np.linalg.norm(left, axis=0)
    taken = (before > NOTHING) & (after <= NOTHING * np.maximum(before, 1))
    shared = _correlations(left, after)
    owner = model.term[1:] - 1
    table = _worst(shared, owner, len(terms))
    lost = tuple(terms.terms[i] for i in sorted({int(owner[c]) for c in np.flatnonzero(taken)}))
    return Mixing(
        groups=_groups(table, terms),
        with_blocks=lost,
        partly=_partly(table, terms),
    )


def second_order_terms(factors: tuple[Factor, ...]) -> Terms:
    """Return all main effects, products of two and squares of the factors."""
    found = {Term(powers=((f.name, 1),)) for f in factors}
    found |= {Term(powers=((a.name, 1), (b.name, 1))) for a, b in combinations(factors, 2)}
    found |= {Term(powers=((f.name, 2),)) for f in factors if is_numeric(f)}
    return Terms(terms=sorted_terms(found, factors), asked="second-order")


def _correlations(left: NDArray[np.float64], size: NDArray[np.float64]) -> NDArray[np.float64]:
    safe = np.where(size > NOTHING, size, np.inf)
    return np.asarray(left.T @ left / np.outer(safe, safe))


def _worst(
    shared: NDArray[np.float64], owner: NDArray[np.int64], count: int
) -> NDArray[np.float64]:
    """Return the entry (terms, terms) of largest size between the columns of two terms."""
    table = np.zeros((count, count))
    for a in range(count):
        for b in range(a):
            block = shared[np.ix_(owner == a, owner == b)].ravel()
            table[a, b] = table[b, a] = block[np.argmax(np.abs(block))]
    return table


def _groups(table: NDArray[np.float64], terms: Terms) -> tuple[tuple[Term, ...], ...]:
    groups: list[list[int]] = []
    for i in range(len(terms)):
        home = next((g for g in groups if abs(table[i, g[0]]) > WHOLE), None)
        if home is None:
            groups.append([i])
        else:
            home.append(i)
    return tuple(tuple(terms.terms[i] for i in g) for g in groups if len(g) > 1)


def _partly(table: NDArray[np.float64], terms: Terms) -> tuple[Overlap, ...]:
    found = [
        Overlap(one=terms.terms[b], other=terms.terms[a], size=float(table[a, b]))
        for a in range(len(terms))
        for b in range(a)
        if NOTHING < abs(table[a, b]) <= WHOLE
    ]
    return tuple(sorted(found, key=lambda o: -abs(o.size)))
