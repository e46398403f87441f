"""What the model leaves out and the runs could not keep apart from what is in it."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical, is_numeric
from workbench.define.terms import Term, Terms, sorted_terms
from workbench.plan.aliases import aliases

if TYPE_CHECKING:
    from workbench.define.factors import Factor
    from workbench.fit.core import Core
    from workbench.fit.run_means import RunMeans
    from workbench.plan.aliases import Alias

WORTH_SAYING = 0.2  # drifted settings mix everything a little; below this the note would not help
MOST_SHOWN = 6
MIDDLE = 0.6  # coded; a run closer to the middle than this can show that the outcome bends


def left_out(core: Core, data: RunMeans, terms: Terms) -> tuple[str, ...]:
    """Return notes on products and squares outside the model that could pass for main effects."""
    return (*_mixed_in(core, data, terms), *_unchecked_bends(data, terms))


def _mixed_in(core: Core, data: RunMeans, terms: Terms) -> list[str]:
    factors = _known(data)
    doubted = _second_order(terms, factors)
    model_is_whole = bool(
        core.whole.kept[: core.whole.kept.size - core.matrix.n_block_columns].all()
    )
    if not doubted.terms or not model_is_whole:
        return []
    found = [one for one in aliases(terms, data.settings, doubted) if one.term.order == 1]
    lines = [line for line in map(_line, found) if line]
    if not lines:
        return []
    more = f"; and {len(lines) - MOST_SHOWN} more" if len(lines) > MOST_SHOWN else ""
    return [
        (
            "If the terms left out of the model are not zero, they pass for main effects: "
            f"{'; '.join(lines[:MOST_SHOWN])}{more} (sizes in coded units)."
        )
    ]


def _line(alias: Alias) -> str:
    large = sorted(
        (one for one in alias.with_terms if abs(one[1]) >= WORTH_SAYING), key=lambda t: -abs(t[1])
    )
    if not large:
        return ""
    said = [
        f"{'+' if size > 0 else '−'} {'' if abs(abs(size) - 1) < 1e-6 else f'{abs(size):.2g} × '}"
        f"({term})"
        for term, size in large[:MOST_SHOWN]
    ]
    more = " …" if len(large) > MOST_SHOWN else ""
    return f"{alias.term} holds {' '.join(said)}{more}"


def _unchecked_bends(data: RunMeans, terms: Terms) -> list[str]:
    in_model = {name for term in terms.terms for name in term.factors}
    coded = data.settings.coded()
    names = [
        factor.name
        for j, factor in enumerate(data.settings.factors)
        if factor.name in in_model
        and not isinstance(factor, Categorical)
        and (np.abs(coded[:, j]) > MIDDLE).all()
    ]
    if not names:
        return []
    return [
        (
            f"No run stands between the ends of {', '.join(names)}: that the outcome runs "
            "straight between them was not checked."
        )
    ]


def _known(data: RunMeans) -> tuple[Factor, ...]:
    finite = np.isfinite(data.settings.values).all(axis=0)
    varies = np.ptp(np.nan_to_num(data.settings.values), axis=0) > 0
    pairs = zip(data.settings.factors, finite & varies, strict=True)
    return tuple(factor for factor, use in pairs if use)


def _second_order(terms: Terms, factors: tuple[Factor, ...]) -> Terms:
    found = {Term(powers=((a.name, 1), (b.name, 1))) for a, b in combinations(factors, 2)}
    found |= {Term(powers=((f.name, 2),)) for f in factors if is_numeric(f)}
    return Terms(
        terms=sorted_terms(found - set(terms.terms), factors),
        asked="products and squares left out",
    )
