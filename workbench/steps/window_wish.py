"""Read what is wished of a window from options written as text."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from workbench.decide.wishes import IN_RANGE, wished
from workbench.define.factors import Categorical
from workbench.errors import OptionError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.decide.wishes import BoxWish
    from workbench.define.factors import Factor
    from workbench.define.settings import Value

BETWEEN = " to "


def window_wish(
    factors: Sequence[Factor],
    *,
    hold: Sequence[str] = (),
    within: Sequence[str] = (),
    weigh: Sequence[str] = (),
    size_in: str = IN_RANGE,
) -> BoxWish:
    """Return the wish from NAME=VALUE, NAME=LOW to HIGH and NAME=W.

    Raises
    ------
    OptionError
        If a text names no factor or a number is none.
    """
    return wished(
        held=dict(_held(factors, one) for one in hold),
        within=dict(_within(factors, one) for one in within),
        weights=dict(_weight(factors, one) for one in weigh),
        size_in=size_in,
    )


def _held(factors: Sequence[Factor], pair: str) -> tuple[str, Value]:
    factor, text = _split(factors, pair, "--hold")
    if isinstance(factor, Categorical):
        return factor.name, text
    return factor.name, _number(text, f"{factor.name} is to be held at", "--hold")


def _within(factors: Sequence[Factor], pair: str) -> tuple[str, tuple[float, float]]:
    factor, text = _split(factors, pair, "--within")
    ends = text.split(BETWEEN)
    if len(ends) != 2:
        raise OptionError(
            f"{text!r} is not a range of {factor.name}.",
            why="A range has a lower and an upper end.",
            next_step=f'Write --within "{factor.name}=LOW to HIGH".',
            place="--within",
        )
    low, high = (_number(end, f"An end of {factor.name} is", "--within") for end in ends)
    return factor.name, (low, high)


def _weight(factors: Sequence[Factor], pair: str) -> tuple[str, float]:
    factor, text = _split(factors, pair, "--weigh")
    return factor.name, _number(text, f"The weight of {factor.name} is", "--weigh")


def _split(factors: Sequence[Factor], pair: str, option: str) -> tuple[Factor, str]:
    """Split at the sign that follows a known name, since a name may hold the sign itself."""
    for factor in sorted(factors, key=lambda one: -len(one.name)):
        if pair.startswith(f"{factor.name}="):
            return factor, pair.removeprefix(f"{factor.name}=").strip()
    raise OptionError(
        f"{pair!r} names no factor of this trial.",
        why="Factors are found by their names.",
        next_step=f"Write NAME=VALUE with one of: {', '.join(one.name for one in factors)}.",
        place=option,
    )


def _number(text: str, what: str, option: str) -> float:
    try:
        number = float(text)
    except ValueError:
        number = math.nan
    if math.isfinite(number):
        return number
    raise OptionError(
        f"{what} {text!r}.",
        why="It is a number in the unit of the factor, with a decimal point.",
        next_step="Write the number alone, such as 2.5.",
        place=option,
    )
