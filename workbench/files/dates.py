"""Dates written as text, to the form of ISO 8601; what can be read in two ways is asked."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from workbench.errors import FileError
from workbench.run.receipt import ReceiptLine

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.files.read_options import ReadOptions

ORDERS = ("d.m.y", "m/d/y", "y-m-d")
_DATE = re.compile(
    r"(?P<a>[0-9]{1,4})(?P<mark>[./-])\s?(?P<b>[0-9]{1,2})(?P=mark)\s?(?P<c>[0-9]{1,4})"
    r"(?P<time>[T ,]\s*[0-9]{1,2}:[0-9]{2}(:[0-9]{2}(\.[0-9]+)?)?)?"
)
_ISO = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}(T.*)?")


@dataclass(frozen=True, slots=True, kw_only=True)
class DatedColumn:
    """The texts of a column with its dates in the form of ISO 8601, and what was assumed."""

    texts: tuple[str, ...]
    lines: tuple[ReceiptLine, ...]


def dated(
    texts: Sequence[str], *, heading: str, source: str, options: ReadOptions
) -> DatedColumn | None:
    """Return the texts of a column of dates, None if it is none.

    Raises
    ------
    FileError
        If the order of day and month can be read in two ways, or no order fits all cells.
    """
    first = next((text for text in texts if text), "")
    if _DATE.fullmatch(first) is None:
        return None
    found = [_DATE.fullmatch(text) for text in texts if text]
    met = [one for one in found if one is not None]
    if len(met) < len(found) or _are_iso(texts):
        return None
    if not all(any(_fits(one, order) for order in ORDERS) for one in met):
        return None  # numbers of parts or versions, such as 1.2.3
    written = [one for one in met if not _ISO.fullmatch(one[0])]
    order = _order(written, heading=heading, source=source, options=options)
    if len(written) < len(met) and not options.dates:
        raise _mixed(written[0][0], heading=heading, source=source)
    line = ReceiptLine(
        where=f"{source}, column {heading!r}",
        met=f"dates such as {written[0][0]}",
        understood=f"{order}: {_iso(written[0], order)}",
        sure=bool(options.dates) or len(_fitting(written)) == 1,
    )
    return DatedColumn(texts=tuple(_rewritten(text, order) for text in texts), lines=(line,))


def _are_iso(texts: Sequence[str]) -> bool:
    return all(_ISO.fullmatch(text) for text in texts if text)


def _rewritten(text: str, order: str) -> str:
    found = _DATE.fullmatch(text)
    return text if found is None or _ISO.fullmatch(text) else _iso(found, order)


def _order(
    written: Sequence[re.Match[str]], *, heading: str, source: str, options: ReadOptions
) -> str:
    fitting = _fitting(written)
    place = f"{source}, column {heading!r}"
    if options.dates:
        if options.dates in fitting:
            return options.dates
        raise _none_fits(next(one[0] for one in written if not _fits(one, options.dates)), place)
    if not fitting:
        raise _none_fits(written[0][0], place)
    # Points between day, month and year are written in this order only (common practice, no
    # source); strokes and hyphens in every order.
    if all(one["mark"] == "." for one in written) and "d.m.y" in fitting:
        return "d.m.y"
    if len(fitting) > 1 and any(
        _iso(one, fitting[0]) != _iso(one, other) for one in written for other in fitting[1:]
    ):
        raise _two(written[0], fitting, place)
    return fitting[0]


def _fitting(written: Sequence[re.Match[str]]) -> list[str]:
    return [order for order in ORDERS if all(_fits(one, order) for one in written)]


def _fits(found: re.Match[str], order: str) -> bool:
    try:
        return bool(_iso(found, order))
    except ValueError:
        return False


def _iso(found: re.Match[str], order: str) -> str:
    by_letter = dict(zip(re.sub(r"[^dmy]", "", order), (found[k] for k in "abc"), strict=True))
    year, month, day = by_letter["y"], by_letter["m"], by_letter["d"]
    if len(year) not in (2, 4) or len(day) > 2 or len(month) > 2:
        raise ValueError(found[0])
    whole = int(year) + (2000 if len(year) == 2 else 0)
    time = (found["time"] or "").strip(" T,")
    return date(whole, int(month), int(day)).isoformat() + (f"T{time.zfill(5)}" if time else "")


def _two(met: re.Match[str], fitting: Sequence[str], place: str) -> FileError:
    readings = " or ".join(f"{_iso(met, order)} ({order})" for order in fitting)
    return FileError(
        f"{met[0]!r} is {readings}.",
        why="No date in the column says whether the day or the month comes first.",
        next_step=f"Say so: --dates {' or --dates '.join(fitting)}.",
        place=place,
    )


def _none_fits(text: str, place: str) -> FileError:
    return FileError(
        f"The dates do not all have one order of day, month and year ({text!r} does not fit).",
        why="Some would be read with day and month exchanged.",
        next_step="Write all of them as 2025-04-03, or say their order with --dates.",
        place=place,
    )


def _mixed(text: str, *, heading: str, source: str) -> FileError:
    return FileError(
        f"Dates kept as text, such as {text!r}, stand beside true dates.",
        why="That happens where a program took day for month wherever it could, and left the "
        "rest as text: the true dates may be wrong.",
        next_step="Check them. Then say how those kept as text are written: --dates d.m.y or "
        "--dates m/d/y; true dates are taken as they stand.",
        place=f"{source}, column {heading!r}",
    )
