"""Effects: what a term changes between the ends of its factors, in the unit of the outcome."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical
from workbench.define.terms import MEAN
from workbench.errors import Unavailable
from workbench.fit.aliasing import joint_line
from workbench.fit.core import linear, statistic_of, t_chance
from workbench.fit.matrix import BLOCKS
from workbench.fit.nouns import Effect
from workbench.fit.scales import unit_on_scale

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.define.outcomes import Measured
    from workbench.define.terms import Term
    from workbench.fit.core import Core
    from workbench.fit.nouns import Estimate


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Contrast:
    """An effect as a weighted sum of a term's columns (weights (q,)), and what it compares."""

    name: str
    from_to: str
    weights: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlacedContrast:
    """A contrast of one term with its weights on all columns (p,) of a model."""

    term: Term
    name: str
    from_to: str
    weights: NDArray[np.float64]


def effects(core: Core, outcome: Measured, factors: tuple[Factor, ...]) -> tuple[Effect, ...]:
    """Return the effects of every term that is not wholly mixed with earlier ones."""
    return tuple(_effect(core, outcome, one) for one in placed_contrasts(core, factors))


def placed_contrasts(core: Core, factors: tuple[Factor, ...]) -> tuple[PlacedContrast, ...]:
    """Return the contrasts of every term that is not wholly mixed with earlier ones.

    Where terms cannot be told apart a name is their joint line.
    """
    found = []
    columns = _column_effects(core, factors)
    for term in core.matrix.terms:
        if term in (MEAN, BLOCKS):
            continue
        places = core.matrix.places(term)
        for contrast in contrasts(term, factors):
            if core.whole.kept[places[contrast.weights != 0]].all():
                weights = np.zeros(core.whole.kept.size)
                weights[places] = contrast.weights
                found.append(
                    PlacedContrast(
                        term=term,
                        name=_named(core, contrast, (columns, places)),
                        from_to=contrast.from_to,
                        weights=weights,
                    )
                )
    return tuple(found)


def contrasts(term: Term, factors: tuple[Factor, ...]) -> tuple[Contrast, ...]:
    """Return the effects of a term as weights on its columns.

    A numeric factor or a category of two levels: from low to high (from the first level to the
    second). More levels: each against the mean of all. A product: half the difference of the
    effects at high and low, as usual (Montgomery 2017, section 6.2). Even powers only: from the
    middle to an end.
    """
    known = {factor.name: factor for factor in factors}
    weights: NDArray[np.float64] = np.ones((1, 1))
    labels: list[tuple[str, ...]] = [()]
    for name, power in term.powers:
        own, words = _basis(known[name], power)
        weights = np.asarray(np.kron(weights, own))
        labels = [(*label, word) for label in labels for word in words]
    spans = any(_swings(known[name], power) for name, power in term.powers)
    factor = 2.0 if spans else 1.0
    return tuple(
        Contrast(
            name=" × ".join(label),
            from_to=_from_to(term, known, label),
            weights=factor * weights[i],
        )
        for i, label in enumerate(labels)
    )


def _effect(core: Core, outcome: Measured, contrast: PlacedContrast) -> Effect:
    weights = contrast.weights
    estimate = linear(core, weights)
    p = t_chance(statistic_of(estimate), core.error_df)
    value = float(weights @ core.estimates)
    is_ratio = outcome.scale == "log"
    if is_ratio:
        value = float(np.exp(value))
        estimate = _as_ratio(estimate)
    bent = outcome.scale in ("square root", "inverse")
    return Effect(
        name=contrast.name,
        term=contrast.term,
        value=value,
        estimate=estimate,
        unit=unit_on_scale(outcome.unit, outcome.scale),
        is_ratio=is_ratio,
        from_to=contrast.from_to + (f", on the {outcome.scale} scale" if bent else ""),
        p=p,
    )


def _as_ratio(estimate: Estimate | Unavailable) -> Estimate | Unavailable:
    # The standard error stays that of the logarithm; a ratio has none of its own.
    if isinstance(estimate, Unavailable):
        return estimate
    value, low, high = np.exp([estimate.value, estimate.low, estimate.high])
    return replace(estimate, value=float(value), low=float(low), high=float(high))


def _named(core: Core, contrast: Contrast, named: tuple[_ColumnEffects, NDArray[np.intp]]) -> str:
    columns, places = named
    used = places[contrast.weights != 0]
    mixed = used[core.mixed[used]]
    if mixed.size == 0:
        return contrast.name
    if used.size > 1:
        return f"{contrast.name} (mixed)"
    return joint_line(core, int(used[0]), names=columns.names, sizes=columns.sizes)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _ColumnEffects:
    """Names (p,) and sizes (p,) of columns as effects: effect = size × coefficient."""

    names: tuple[str, ...]
    sizes: NDArray[np.float64]


def _column_effects(core: Core, factors: tuple[Factor, ...]) -> _ColumnEffects:
    names, sizes = list(core.matrix.names), np.ones(len(core.matrix.names))
    for term in core.matrix.terms:
        places = core.matrix.places(term)
        if term in (MEAN, BLOCKS) or places.size > 1:
            continue
        only = contrasts(term, factors)[0]
        names[places[0]], sizes[places[0]] = only.name, only.weights[0]
    return _ColumnEffects(names=tuple(names), sizes=sizes)


def _basis(factor: Factor, power: int) -> tuple[NDArray[np.float64], list[str]]:
    if not isinstance(factor, Categorical):
        raised = {1: "", 2: "²", 3: "³"}.get(power, f"^{power}")
        return np.ones((1, 1)), [f"{factor.name}{raised}"]
    if len(factor.levels) == 2:
        # Its column is +1 at the first level; the effect goes from the first to the second.
        return -np.ones((1, 1)), [factor.name]
    each = len(factor.levels) - 1
    levels = np.vstack([np.eye(each), -np.ones((1, each))])
    return levels, [f"{factor.name} [{level}]" for level in factor.levels]


def _swings(factor: Factor, power: int) -> bool:
    if isinstance(factor, Categorical):
        return len(factor.levels) == 2
    return power % 2 == 1


def _from_to(term: Term, known: dict[str, Factor], label: tuple[str, ...]) -> str:
    *before, (name, power) = term.powers
    factor = known[name]
    if not before:
        return _alone(factor, power)
    rest = " × ".join(label[:-1])
    unit = f" {factor.unit}" if factor.unit else ""
    if isinstance(factor, Categorical):
        if len(factor.levels) == 2:
            first, second = factor.levels
            return f"half of: effect of {rest} at {second} minus at {first}"
        return f"effect of {rest} at {label[-1]} minus its mean over the levels"
    if power % 2 == 0:
        return f"effect of {rest} at either end of {name} minus at its middle"
    low, high = f"{factor.low:g}{unit}", f"{factor.high:g}{unit}"
    return f"half of: effect of {rest} at {name} {high} minus at {low}"


def _alone(factor: Factor, power: int) -> str:
    if isinstance(factor, Categorical):
        if len(factor.levels) == 2:
            return f"from {factor.levels[0]} to {factor.levels[1]}"
        return "against the mean of all levels"
    unit = f" {factor.unit}" if factor.unit else ""
    if power % 2 == 0:
        middle = (factor.low + factor.high) / 2
        return f"from the middle ({middle:g}{unit}) to either end"
    return f"from {factor.low:g} to {factor.high:g}{unit}"
