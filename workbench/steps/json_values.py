"""Numbers and reasons as JSON values."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, TypeAlias

from workbench.errors import Unavailable

if TYPE_CHECKING:
    from collections.abc import Sequence

Json: TypeAlias = "dict[str, Json] | list[Json] | str | float | int | bool | None"
JsonObject: TypeAlias = "dict[str, Json]"


def number(value: float | Unavailable | None) -> Json:
    """Return a number at full precision; an answer that cannot be had as its reason.

    A number without end (a ratio over no scatter at all, an inverse that reaches zero) has no
    place in JSON and is said in words.

    >>> number(0.1), number(Unavailable(reason="no error estimate"))
    (0.1, {'unavailable': 'no error estimate'})
    """
    if value is None:
        return None
    if isinstance(value, Unavailable):
        return unavailable(value.reason)
    plain = float(value)
    if not math.isfinite(plain):
        return unavailable("there is no finite number here")
    return int(plain) if isinstance(value, int) else plain


def value(of: float | str) -> Json:
    """Return a setting: a number, or the name of a level."""
    return of if isinstance(of, str) else number(of)


def unavailable(reason: str) -> JsonObject:
    """Return an answer that cannot be had."""
    return {"unavailable": reason}


def words(lines: Sequence[str]) -> Json:
    """Return words as a list."""
    return [str(line) for line in lines]
