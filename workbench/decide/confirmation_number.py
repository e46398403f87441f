"""How many parts a confirmation needs, and what fewer could still show, in sentences."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.decide.confirmation_normal import (
    allowances,
    chance_by_measure,
)
from workbench.decide.zero_failures import (
    counting,
    counting_of,
    shown_without_failure,
)
from workbench.numerics.parts_to_show import at_most_failing
from workbench.numerics.tolerance_factors import one_sided_factor

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.decide.confirmation_normal import (
        Allowance,
        Margin,
    )
    from workbench.decide.confirmation_spots import Spot
    from workbench.decide.sample import Ask

FEWEST = (
    10  # below it a wrong shape of scatter could not be seen at all: common practice, no source
)
WANTED = 0.80  # chance that all places confirm if the process is as foreseen: the usual power


@dataclass(frozen=True, slots=True, kw_only=True)
class Number:
    """Parts at one place, what they are allowed, and the chance that they confirm it."""

    parts: int
    failures_allowed: int | None
    allowed: tuple[Allowance, ...]
    chance_to_confirm: float


def by_counting(spot: Spot, ask: Ask, *, parts: int | None, failures: int) -> Number:
    """Return the number of parts that shows the share by being counted."""
    if parts is None:
        found = counting(ask.share, confidence=ask.confidence, failures=failures)
    else:
        asked = counting_of(parts, ask.share, confidence=ask.confidence)
        if asked is None:
            return Number(parts=parts, failures_allowed=None, allowed=(), chance_to_confirm=0.0)
        found = asked
    chance = at_most_failing(found.failures, found.parts, spot.failing).mean()
    return Number(
        parts=found.parts,
        failures_allowed=found.failures,
        allowed=(),
        chance_to_confirm=float(chance),
    )


def by_measure(margins: Sequence[Margin], ask: Ask, *, parts: int | None, wanted: float) -> Number:
    """Return the number of parts that shows the share by how far inside they measure.

    The fewest, from ten up, that confirm with the chance wanted; no more than counting would
    take, since that needs no shape of the scatter.
    """
    if parts is not None:
        return _at(margins, ask, parts)
    most = counting(ask.share, confidence=ask.confidence).parts
    low, high = FEWEST, max(FEWEST, most)
    if _at(margins, ask, low).chance_to_confirm >= wanted:
        return _at(margins, ask, low)
    while high - low > 1:
        middle = (low + high) // 2
        if _at(margins, ask, middle).chance_to_confirm >= wanted:
            high = middle
        else:
            low = middle
    return _at(margins, ask, high)


def wanted_at_each(n_places: int) -> float:
    """Return the chance wanted at each place for all together to confirm as wanted."""
    return 1 - (1 - WANTED) / n_places


def _at(margins: Sequence[Margin], ask: Ask, n: int) -> Number:
    allowed = allowances(margins, n, share=ask.share, confidence=ask.confidence)
    fallback = counting_of(n, ask.share, confidence=ask.confidence)
    return Number(
        parts=n,
        failures_allowed=None if fallback is None else fallback.failures,
        allowed=allowed,
        chance_to_confirm=chance_by_measure(margins, allowed, n, confidence=ask.confidence),
    )


def number_by_counting(
    ask: Ask, numbers: Sequence[Number], spots: Sequence[Spot]
) -> tuple[str, ...]:
    """Return why so many parts are counted, in sentences, and what allowing failures would buy."""
    usual = [counting(ask.share, confidence=ask.confidence, failures=f).parts for f in range(3)]
    why = (
        f"{_promise(ask)} is shown by {usual[0]} parts without a failure, {usual[1]} with at most "
        f"one, {usual[2]} with at most two (exact binomial), at each place on its own."
    )
    return why, _chance(numbers), _if_allowed(ask, spots)


def _if_allowed(ask: Ask, spots: Sequence[Spot]) -> str:
    said = []
    for failures in range(3):
        ways = [by_counting(spot, ask, parts=None, failures=failures) for spot in spots]
        chance = math.prod(one.chance_to_confirm for one in ways)
        said.append(f"{failures} allowed, {ways[0].parts} a place: {_percent(chance)}")
    return f"The same chance by failures allowed at each place: {'; '.join(said)}."


def number_by_measure(ask: Ask, numbers: Sequence[Number]) -> tuple[str, ...]:
    """Return why so many parts are measured, in sentences."""
    n = max(one.parts for one in numbers)
    factor = one_sided_factor(n, ask.share, confidence=ask.confidence)
    counted = counting(ask.share, confidence=ask.confidence).parts
    why = (
        f"Up to {n} parts a place show it by measure: the mean of {n} has to stay {factor:.2f} "
        "standard deviations inside a limit if that one alone matters (normal tolerance factor), "
        f"further if several do. Counted as good or bad it would take {counted} parts without a "
        "failure at each place."
    )
    return why, _chance(numbers)


def fewer_parts(ask: Ask, numbers: Sequence[Number]) -> tuple[str, ...]:
    """Return what smaller numbers could still show, in sentences."""
    n = max(one.parts for one in numbers)
    sizes = sorted({size for size in (3, 5, 10) if 2 <= size < n})
    said = [_shown(size, ask) for size in sizes]
    if not said:
        return ()
    why = (
        f"Fewer parts, counted at one place, none of them failing: {'; '.join(said)}, each with "
        f"{_percent(ask.confidence)} confidence."
    )
    return (why,)


def _shown(size: int, ask: Ask) -> str:
    share = shown_without_failure(size, confidence=ask.confidence)
    return f"{size} parts show that at least {_percent(share)} meet everything"


def _promise(ask: Ask) -> str:
    return (
        f"That at least {_percent(ask.share)} of parts meet everything, with "
        f"{_percent(ask.confidence)} confidence,"
    )


def _chance(numbers: Sequence[Number]) -> str:
    lowest = min(one.chance_to_confirm for one in numbers)
    all_of_them = math.prod(one.chance_to_confirm for one in numbers)
    if lowest == 0:
        return "So few parts cannot show it, whatever comes out."
    return (
        f"If the process is as foreseen, these parts show it at every place with a chance of "
        f"about {_percent(all_of_them)}; a confirmation that comes out short is then no fault."
    )


def _percent(value: float) -> str:
    return f"{math.floor(1000 * value + 1e-9) / 10:g} %"
