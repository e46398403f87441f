"""Waits: how long a part must rest after it is made before an outcome can be read."""

from __future__ import annotations

import re
from dataclasses import dataclass

_HOURS = {
    "s": 1 / 3600,
    "sec": 1 / 3600,
    "second": 1 / 3600,
    "min": 1 / 60,
    "minute": 1 / 60,
    "h": 1.0,
    "hr": 1.0,
    "hour": 1.0,
    "d": 24.0,
    "day": 24.0,
    "wk": 168.0,
    "week": 168.0,
}
_ONE = re.compile(r"(?P<number>\d{1,6}(?:[.,]\d{1,6})?)\s*(?P<unit>[a-z]+)\s*")
LONGEST = 10 * 365 * 24.0  # hours; beyond this a spreadsheet's dates and anyone's patience end


@dataclass(frozen=True, slots=True, kw_only=True)
class Wait:
    """A wait from the making of a part: `hours` above zero, and its words, such as "72 h"."""

    hours: float
    words: str


def waiting_time(text: str) -> Wait | None:
    """Return the wait that a text states, or None if it says anything else.

    Only a plain length of time is understood, with or without "after" before it: in "24 h after
    cure" the clock does not start when the part is made, so that stays text.

    Examples
    --------
    >>> waiting_time("after 3 d")
    Wait(hours=72.0, words='3 d')
    >>> waiting_time("1 h 30 min").hours
    1.5
    >>> waiting_time("24 h after cure") is None
    True
    """
    words = text.strip()
    if words[:6].casefold() == "after ":
        words = words[6:].strip()
    hours, at = 0.0, 0
    lowered = words.lower()
    while at < len(lowered):
        found = _ONE.match(lowered, at)
        unit = _hours_of(found["unit"]) if found else None
        if found is None or unit is None:
            return None
        hours += float(found["number"].replace(",", ".")) * unit
        at = found.end()
    return Wait(hours=hours, words=words) if 0 < hours <= LONGEST else None


def _hours_of(unit: str) -> float | None:
    return _HOURS.get(unit) or _HOURS.get(unit.removesuffix("s"))
