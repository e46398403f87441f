"""Combinations of levels that were never run."""

from __future__ import annotations

from itertools import combinations, product
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical

if TYPE_CHECKING:
    from workbench.define.settings import Settings
    from workbench.define.terms import Terms

MOST_COMBINATIONS = 12


def missing_combinations(settings: Settings, terms: Terms) -> tuple[str, ...]:
    """Return which combinations of two or three categories in the model were never run."""
    in_model = {name for term in terms.terms for name in term.factors}
    known = [
        one for one in settings.factors if isinstance(one, Categorical) and one.name in in_model
    ]
    found: list[str] = []
    told: list[frozenset[tuple[str, str]]] = []
    for count in (2, 3):
        for some in combinations(known, count):
            new = _missing(settings, tuple(some), told)
            told += [frozenset(zip([f.name for f in some], one, strict=True)) for one in new]
            if 0 < len(new) <= MOST_COMBINATIONS:
                shown = "; ".join(" ".join(one) for one in new)
                names = " × ".join(one.name for one in some)
                found.append(f"Never run ({names}): {shown}. Means there rest on the model alone.")
    return tuple(found)


def _missing(
    settings: Settings, some: tuple[Categorical, ...], told: list[frozenset[tuple[str, str]]]
) -> list[tuple[str, ...]]:
    seen = {
        tuple(row)
        for row in np.column_stack([settings.column(one.name) for one in some])
        .astype(int)
        .tolist()
    }
    used = [sorted({row[i] for row in seen}) for i in range(len(some))]
    found = []
    for cell in product(*used):
        names = tuple(one.levels[i] for one, i in zip(some, cell, strict=True))
        pairs = frozenset(zip([one.name for one in some], names, strict=True))
        if cell not in seen and not any(one <= pairs for one in told):
            found.append(names)
    return found
