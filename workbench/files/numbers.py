"""Text of a cell to a number: decimal comma, thousands marks, minus signs, marks, units."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import lru_cache
from typing import TYPE_CHECKING

from workbench.define.units import unit_kind
from workbench.errors import FileError

if TYPE_CHECKING:
    from collections.abc import Iterable

NOT_MEASURED = ("", "-", "–", "—", "n/a", "na", "#n/a", "n.a.", "not measured", "missing")
SHEET_ERRORS = ("#div/0!", "#value!", "#ref!", "#name?", "#num!", "#null!", "#spill!", "#calc!")
MINUS_SIGNS = str.maketrans(dict.fromkeys("−‒–—﹣－", "-"))
SPACES = "\u0020\u00a0\u2009\u202f"

_SHAPE = re.compile(
    r"(?P<mark>>=|<=|[<>≥≤])?\s*(?P<sign>[-+])?"
    rf"(?P<digits>[0-9]+(?:[.,'’{SPACES}][0-9]+)*[.,]?|[.,][0-9]+)"
    r"(?P<power>[eE][-+]?[0-9]{1,4})?"
    r"\s*(?P<unit>(?![0-9.,]).*)?"
)
_SHOWN_UNIT = re.compile(r"[-+0-9.e]+ ?(?P<unit>[^-+0-9.e ].*)")
_ISO_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}(T.*)?")
_MARKS = {"<": -1, "<=": -1, "≤": -1, ">": 1, ">=": 1, "≥": 1}


class Decimal(StrEnum):
    """The decimal mark of a column: known from cells that leave no doubt, or not known.

    GROUPED: a point, and commas are known to group thousands (as in 1,234.5); COMMA_GROUPED the
    other way round. EITHER: whichever stands there, since neither is said to group thousands.
    """

    POINT = "."
    GROUPED = ".,"
    COMMA = ","
    COMMA_GROUPED = ",."
    EITHER = "either"
    UNKNOWN = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CellNumber:
    """A number read from a cell.

    `mark` is −1 for "below value", +1 for "above value", 0 otherwise; `unit` the unit written in
    the cell (empty if none stands there); `text` is what the cell says.
    """

    value: float
    mark: int
    unit: str
    text: str


@dataclass(frozen=True, slots=True)
class _Split:
    """A cell taken apart; `digits` still hold decimal and thousands marks."""

    mark: str
    sign: str
    digits: str
    power: str
    unit: str


def has_comma(decimal: Decimal) -> bool:
    """Whether a comma is the decimal mark."""
    return decimal in (Decimal.COMMA, Decimal.COMMA_GROUPED)


def is_not_measured(text: str) -> bool:
    """Return whether a cell says that nothing was measured (empty, n/a, a dash)."""
    return text.strip().casefold() in NOT_MEASURED


def decimal_mark(texts: Iterable[str]) -> Decimal:
    """Return the decimal mark that the cells prove, or UNKNOWN if none or two are proved.

    A mark is proved as decimal where it cannot group thousands: not followed by exactly three
    digits, behind a leading zero, or standing last after a mark of the other kind.
    """
    proved = {mark for text in texts if (mark := proved_mark(text)) is not Decimal.UNKNOWN}
    if proved == {Decimal.POINT, Decimal.GROUPED}:
        return Decimal.GROUPED
    if proved == {Decimal.COMMA, Decimal.COMMA_GROUPED}:
        return Decimal.COMMA_GROUPED
    return proved.pop() if len(proved) == 1 else Decimal.UNKNOWN


def read_number(text: str, *, decimal: Decimal, place: str) -> CellNumber | None:
    """Return the number in a cell, or None if the cell says that nothing was measured.

    `decimal` is what the rest of the column proves. `1.234` is one thousand only if the column
    proves a comma as decimal mark; `1,234` has two readings unless the column proves one: points
    elsewhere are not enough, since two hands may have filled it.

    Raises
    ------
    FileError
        If it is no number, is not finite, has two readings, or is an error of a formula.
    """
    if is_not_measured(text):
        return None
    if text.strip().casefold() in SHEET_ERRORS:
        raise FileError(
            f"{text.strip()} is an error of a spreadsheet formula.",
            why="The value it stands for is not known.",
            next_step="Mend the formula, or leave the cell empty if nothing was measured.",
            place=place,
        )
    split = _split(text)
    if split is None:
        raise not_a_number(text, place)
    plain = _plain_digits(split.digits, decimal=decimal, text=text, place=place)
    value = float(f"{split.sign}{plain}{split.power}")
    if not math.isfinite(value):
        raise not_a_number(text, place)
    return CellNumber(
        value=value, mark=_MARKS.get(split.mark, 0), unit=split.unit, text=text.strip()
    )


def looks_like_number(text: str, decimal: Decimal) -> bool:
    """Whether a cell is a number, alone or with a known unit, or one with two readings."""
    try:
        found = read_number(text, decimal=decimal, place="")
    except FileError as met:
        return "two readings" in met.wrong
    return found is not None and (not found.unit or _is_known_unit(found.unit))


@lru_cache(maxsize=1024)
def _is_known_unit(unit: str) -> bool:
    return unit_kind(unit) is not None


def exact_number(value: float, text: str) -> CellNumber:
    """Return a number that a spreadsheet holds as such, and the unit that its format shows."""
    found = _SHOWN_UNIT.fullmatch(text)
    return CellNumber(value=value, mark=0, unit=found["unit"] if found else "", text=text)


def without_unit(number: CellNumber, value: float) -> CellNumber:
    """Return the number after its unit has been converted away."""
    return replace(number, value=value, unit="")


def _split(text: str) -> _Split | None:
    clean = text.strip().translate(MINUS_SIGNS)
    found = _SHAPE.fullmatch(clean)
    if found is None:
        return None
    parts = {key: value or "" for key, value in found.groupdict().items()}
    unit = parts["unit"].strip()
    if unit and not (unit[0].isalpha() or unit[0] in "%‰°"):
        return None
    return _Split(parts["mark"], parts["sign"], parts["digits"], parts["power"], unit)


def proved_mark(text: str) -> Decimal:
    """Return the decimal mark that a cell proves by itself, UNKNOWN if it proves none."""
    split = _split(text)
    marks = [c for c in split.digits if c in ".,"] if split is not None else []
    if split is None or not marks:
        return Decimal.UNKNOWN
    last = marks[-1]
    if len(marks) > 1:
        return _proved_by_several(split.digits, marks)
    before, _, after = split.digits.partition(last)
    groups = len(after) == 3 and re.fullmatch(r"[1-9][0-9]{0,2}", before)
    return Decimal.UNKNOWN if groups else Decimal(last)


def _proved_by_several(digits: str, marks: list[str]) -> Decimal:
    last = marks[-1]
    if len(set(marks)) == 2:
        if marks.count(last) > 1:
            return Decimal.UNKNOWN
        return Decimal.GROUPED if last == "." else Decimal.COMMA_GROUPED
    if not _is_grouped(digits, last):
        return Decimal.UNKNOWN
    return Decimal.GROUPED if last == "," else Decimal.COMMA_GROUPED


def _plain_digits(digits: str, *, decimal: Decimal, text: str, place: str) -> str:
    bare = _without_spaces(digits)
    if bare is None:
        raise not_a_number(text, place)
    marks = [c for c in bare if c in ".,"]
    if not marks:
        return bare
    if len(marks) == 1:
        return _one_mark(bare, decimal=decimal, text=text, place=place)
    last, first = marks[-1], marks[0]
    whole, _, fraction = bare.rpartition(last)
    if last == first:
        whole, fraction = bare, ""
    if (marks.count(last) > 1 and last != first) or not _is_grouped(whole, first):
        raise not_a_number(text, place)
    return f"{whole.replace(first, '')}.{fraction or '0'}"


def _one_mark(bare: str, *, decimal: Decimal, text: str, place: str) -> str:
    mark = "," if "," in bare else "."
    before, _, after = bare.partition(mark)
    as_decimal = f"{before or '0'}.{after or '0'}"
    if not (len(after) == 3 and re.fullmatch(r"[1-9][0-9]{0,2}", before)):
        return as_decimal
    if decimal is Decimal.EITHER or (mark == "." and not has_comma(decimal)):
        return as_decimal
    if mark == "," and has_comma(decimal):
        return as_decimal
    if decimal is (Decimal.GROUPED if mark == "," else Decimal.COMMA_GROUPED):
        return before + after
    raise two_readings(text, before=before, after=after, place=place)


def two_readings(text: str, *, before: str, after: str, place: str) -> FileError:
    """Return the error of a number whose mark may be decimal or group thousands."""
    return FileError(
        f"{text.strip()!r} has two readings: {before}.{after} and {before}{after}.",
        why="The column does not say whether the mark is decimal or groups thousands.",
        next_step="Say which mark is decimal: --decimal comma or --decimal point; "
        f"or write {before + after} or {before}.{after}, without a thousands mark.",
        place=place,
    )


def _without_spaces(digits: str) -> str | None:
    """Drop blanks and apostrophes that group thousands; None if they group anything else."""
    groups = re.split(rf"[{SPACES}'’]", digits)
    if len(groups) == 1:
        return digits
    whole = [*groups[:-1], re.split(r"[.,]", groups[-1])[0]]
    if not re.fullmatch(r"[0-9]{1,3}", whole[0]):
        return None
    return "".join(groups) if all(re.fullmatch(r"[0-9]{3}", g) for g in whole[1:]) else None


def _is_grouped(whole: str, mark: str) -> bool:
    first, *rest = whole.split(mark)
    return bool(re.fullmatch(r"[0-9]{1,3}", first)) and all(
        re.fullmatch(r"[0-9]{3}", group) for group in rest
    )


def not_a_number(text: str, place: str) -> FileError:
    """Return the error of a cell that should be a number."""
    why = "Nothing can be computed from this cell as it stands."
    if _ISO_DATE.fullmatch(text.strip()):
        why = "A spreadsheet program may have turned a number such as 3.4 into this date."
    return FileError(
        f"{text.strip()!r} is not a number.",
        why=why,
        next_step="Write the number alone (the unit stands in the heading), "
        "or leave the cell empty if nothing was measured.",
        place=place,
    )
