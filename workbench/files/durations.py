"""Times such as 1:30 under a heading with a unit of time, to numbers in that unit."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.define.units import convert, unit_kind
from workbench.errors import FileError
from workbench.files.headings import heading as taken_apart
from workbench.files.headings import in_brackets, with_unit
from workbench.files.number_formats import plain_text
from workbench.run.receipt import ReceiptLine

if TYPE_CHECKING:
    from workbench.files.raw_table import Cells
    from workbench.files.read_options import ReadOptions

FORMS = {
    "h:mm": "h:mm", "hh:mm": "h:mm", "h:min": "h:mm", "hh:mm:ss": "h:mm", "h:mm:ss": "h:mm",
    "m:ss": "m:ss", "mm:ss": "m:ss", "min:s": "m:ss", "min:sec": "m:ss",
}  # fmt: skip
_TIME = re.compile(r"([0-9]{1,4}):([0-5][0-9])(?::([0-5][0-9](?:[.,][0-9]+)?))?")


@dataclass(frozen=True, slots=True, kw_only=True)
class TimedColumn:
    """A column of times as numbers, its heading with their unit, and what was assumed."""

    heading: str
    texts: tuple[str, ...]
    numbers: tuple[float | None, ...]
    lines: tuple[ReceiptLine, ...]


def timed(cells: Cells, *, heading: str, source: str, options: ReadOptions) -> TimedColumn | None:
    """Return a column of times as numbers; None if the heading asks for no time or none stands.

    Raises
    ------
    FileError
        If 1:30 may be hours or minutes and nothing says which.
    """
    brackets = in_brackets(heading)
    form = FORMS.get(brackets.unit.casefold(), "")
    unit = "s" if form else taken_apart(heading).unit
    if not form and unit_kind(unit) != "time":
        return None
    if not any(":" in text for text in cells.texts):
        return None
    texts, numbers = [], []
    for cell in cells:
        found = _TIME.fullmatch(cell.text)
        if found is None:
            texts.append(cell.text)
            numbers.append(cell.number)
            continue
        seconds = _seconds(found, form, options.times, place=f"{source}, column {heading!r}")
        value = convert(seconds, from_unit="s", to_unit=unit)
        texts.append(plain_text(value))
        numbers.append(value)
    shown = next(text for text in cells.texts if ":" in text)
    line = ReceiptLine(
        where=f"{source}, column {heading!r}",
        met=f"times such as {shown}",
        understood=f"{'m:ss' if (form or options.times) == 'm:ss' else 'h:mm:ss'}, in {unit}",
    )
    return TimedColumn(
        heading=with_unit(brackets.name, unit) if form else heading,
        texts=tuple(texts),
        numbers=tuple(numbers),
        lines=(line,),
    )


def _seconds(found: re.Match[str], form: str, said: str, *, place: str) -> float:
    first, second, third = found.groups()
    # Typed as 1:30 into a sheet, a minute and a half is stored as an hour and a half.
    is_doubtful = form == "m:ss" and third == "00" and int(first) > 0
    if (third is None and not (form or said)) or (is_doubtful and not said):
        raise FileError(
            f"{found[0]!r} is {int(first)} h {second} min or {int(first)} min {second} s.",
            why="The heading and the cells do not say which.",
            next_step="Say so: --times h:mm or --times m:ss.",
            place=place,
        )
    if third is not None and not (is_doubtful and said == "m:ss"):
        return int(first) * 3600 + int(second) * 60 + float(third.replace(",", "."))
    return (int(first) * 60 + int(second)) * (1.0 if (said or form) == "m:ss" else 60.0)
