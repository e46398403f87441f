"""Number formats of a sheet: whether a number is shown as a date, a time, a share, with a unit.

The built-in formats and the day counts are those of the open standard ISO/IEC 29500-1, 18.8.30
and 18.17.4.1.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from enum import StrEnum

from workbench.define.units import unit_kind

_DATES = (*range(14, 18), 22, *range(27, 37), *range(50, 59))
_TIMES = (*range(18, 22), 45, 46, 47)
_SHARES = (9, 10)
_LAST_DAY = 2_958_465  # 9999-12-31
_QUOTED = re.compile(r'"([^"]*)"|\\(.)|_.|\*.')
_BRACKETED = re.compile(r"\[(?!h+\]|m+\]|s+\])[^\]]*\]", re.IGNORECASE)


class Shown(StrEnum):
    """What a number format makes of a number."""

    NUMBER = "number"
    SHARE = "share"
    DATE = "date"
    TIME = "time"


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberFormat:
    """How numbers are shown: as what, and with which known unit behind them."""

    shown: Shown = Shown.NUMBER
    unit: str = ""


PLAIN = NumberFormat()


def number_format(number: int, code: str) -> NumberFormat:
    """Return what a format makes of numbers, by its built-in number or its code."""
    if code:
        return _by_code(code)
    if number in _DATES:
        return NumberFormat(shown=Shown.DATE)
    if number in _TIMES:
        return NumberFormat(shown=Shown.TIME)
    return NumberFormat(shown=Shown.SHARE) if number in _SHARES else PLAIN


def _by_code(code: str) -> NumberFormat:
    first = _BRACKETED.sub("", code).split(";")[0]
    literals = "".join(a or b for a, b in _QUOTED.findall(first)).strip()
    bare = _QUOTED.sub("", first).casefold().replace("am/pm", "h").replace("general", "")
    if "%" in bare:
        return NumberFormat(shown=Shown.SHARE)
    if re.search(r"[dy]|m{3}", bare):
        return NumberFormat(shown=Shown.DATE)
    if re.search(r"[hs]", bare):
        return NumberFormat(shown=Shown.TIME)
    if re.search(r"m", bare):
        return NumberFormat(shown=Shown.DATE)
    return NumberFormat(unit=literals) if literals and unit_kind(literals) else PLAIN


def shown_text(value: float, shown: NumberFormat, *, from_1904: bool) -> str:
    """Return a number as text: exact, or as a date (ISO 8601), a time h:mm:ss, a share in %."""
    if shown.shown is Shown.SHARE:
        # The sheet shows 45 % where the file holds 0.45.
        return f"{(Decimal(repr(value)) * 100).normalize():f}%"
    if shown.shown is Shown.TIME and 0 <= value < 366:
        return time_text(value * 86_400)
    if shown.shown is not Shown.NUMBER and 0 <= value <= _LAST_DAY:
        return _date_text(value, from_1904=from_1904)
    exact = plain_text(value)
    return f"{exact} {shown.unit}" if shown.unit else exact


def is_number(value: float, shown: NumberFormat) -> bool:
    """Whether a value in this format is a number to a reader, not a date or a time."""
    if shown.shown is Shown.TIME:
        return not 0 <= value < 366
    return not (shown.shown is Shown.DATE and 0 <= value <= _LAST_DAY)


def plain_text(value: float) -> str:
    """Return as few digits as give the same number again."""
    text = repr(value)
    return text[:-2] if text.endswith(".0") else text


def time_text(seconds: float) -> str:
    """Return a time as h:mm:ss, to a millisecond."""
    whole = round(seconds * 1000)
    minutes, milliseconds = divmod(whole, 60_000)
    hours, minutes = divmod(minutes, 60)
    tail = f"{milliseconds / 1000:06.3f}".removesuffix(".000")
    return f"{hours:02d}:{minutes:02d}:{tail}"


def _date_text(value: float, *, from_1904: bool) -> str:
    # The 1900 count holds a 29 February 1900 that never was, so earlier days stand one further.
    start = datetime(1904, 1, 1, tzinfo=UTC) if from_1904 else datetime(1899, 12, 30, tzinfo=UTC)
    early = timedelta(days=1 if value < 60 and not from_1904 else 0)
    try:
        when = start + early + timedelta(milliseconds=round(value * 86_400_000))
    except OverflowError:
        return plain_text(value)
    text = when.replace(tzinfo=None).isoformat()
    return text.removesuffix("T00:00:00")
