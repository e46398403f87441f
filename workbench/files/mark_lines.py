"""Receipt lines on the marks met in the numbers of a column."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from workbench.files.numbers import SPACES, Decimal, has_comma, looks_like_number, proved_mark
from workbench.files.plain_numbers import (
    is_plain_text,
    is_plain_with_commas,
    mark_has_two_readings,
)
from workbench.run.receipt import ReceiptLine

if TYPE_CHECKING:
    from workbench.files.raw_table import RawTable

_BLANKS = re.compile(rf"[0-9][{SPACES}][0-9]{{3}}")
_APOSTROPHES = re.compile(r"[0-9]['’][0-9]{3}")


def mark_lines(table: RawTable, heading: str, decimal: Decimal) -> list[ReceiptLine]:
    """Return what was assumed of decimal and thousands marks, and of numbers kept as text."""
    cells = table.column(heading)
    place = table.column_place(heading)
    if cells.numbers is not None and None not in cells.numbers:
        return []
    if cells.numbers is None and not has_comma(decimal) and is_plain_text(cells.texts):
        return _open_line(list(cells.texts), place) if decimal is Decimal.UNKNOWN else []
    if has_comma(decimal) and cells.numbers is None and is_plain_with_commas(cells.texts):
        return _line(list(cells.texts), ",", place, understood="decimal comma")
    texts = list(dict.fromkeys(c.text for c in cells if c.number is None and c.text.strip()))
    lines = [*_kept_as_text(table, heading)]
    if has_comma(decimal):
        lines += _line(texts, r",", place, understood="decimal comma")
        lines += _line(texts, r"\..*,|^[^,]*\.", place, understood="point parts thousands")
    elif decimal is Decimal.UNKNOWN and any("," in text for text in texts):
        lines += _two_hands(texts, place)
    elif decimal is Decimal.GROUPED:
        lines += _grouped(table, texts, place)
    lines += _line(texts, _BLANKS.pattern, place, understood="blank parts thousands")
    lines += _line(texts, _APOSTROPHES.pattern, place, understood="apostrophe parts thousands")
    return lines


def _open_line(texts: list[str], place: str) -> list[ReceiptLine]:
    """Say that a point is decimal where every number has three digits behind it."""
    said = [text for text in texts if text]
    if len(said) < 2 or not all("." in text for text in said) or not mark_has_two_readings(said):
        return []
    return _line(said, r"\.", place, understood="decimal point", sure=False)


def _line(
    texts: list[str], pattern: str, place: str, *, understood: str, sure: bool = True
) -> list[ReceiptLine]:
    shown = next((text for text in texts if re.search(pattern, text)), None)
    if shown is None:
        return []
    met = f"numbers such as {shown.strip()}"
    return [ReceiptLine(where=place, met=met, understood=understood, sure=sure)]


def _grouped(table: RawTable, texts: list[str], place: str) -> list[ReceiptLine]:
    shown = next((text.strip() for text in texts if "," in text), None)
    if shown is None:
        return []
    said = bool(table.options.decimal or table.options.thousands)
    met = f"numbers such as {shown}"
    return [
        ReceiptLine(
            where=place,
            met=met if said else f"{met} beside others with a decimal point",
            understood="comma parts thousands",
            sure=said,
        )
    ]


def _two_hands(texts: list[str], place: str) -> list[ReceiptLine]:
    comma = next((t.strip() for t in texts if has_comma(proved_mark(t))), None)
    point = next(
        (t.strip() for t in texts if proved_mark(t) in (Decimal.POINT, Decimal.GROUPED)), None
    )
    if comma is None or point is None:
        return _line(texts, ",", place, understood="comma parts thousands", sure=False)
    met = f"numbers such as {comma} beside others such as {point}"
    understood = "each mark is decimal where it can only be that"
    return [ReceiptLine(where=place, met=met, understood=understood, sure=False)]


def _kept_as_text(table: RawTable, heading: str) -> list[ReceiptLine]:
    cells = table.column(heading)
    if cells.numbers is None:
        return []
    count = sum(
        cell.number is None and looks_like_number(cell.text, Decimal.EITHER) for cell in cells
    )
    if not count:
        return []
    met = f"{count} numbers kept as text" if count > 1 else "a number kept as text"
    return [ReceiptLine(where=table.column_place(heading), met=met, understood="read as numbers")]
