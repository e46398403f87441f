"""Where the headings of a table stand: one row or several, a row of units, notes above."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.define.units import normal_unit, unit_kind
from workbench.errors import FileError
from workbench.files.grid import cell_name, column_letters
from workbench.files.headings import heading as taken_apart
from workbench.files.headings import with_unit
from workbench.run.receipt import ReceiptLine

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.files.grid_areas import Area

WIDE = 0.6  # of the widest row: notes above a table fill less
ROWS_LOOKED_AT = 40
LEVELS_AT_MOST = 3
NO_UNIT = ("-", "–", "—", "1", "n/a", "none", "[-]", "(-)", "[–]", "")
UNIT_LABELS = ("unit", "units", "einheit", "einheiten", "unité", "unità", "unidad", "eenheid")


@dataclass(frozen=True, slots=True, kw_only=True)
class HeadingRows:
    """Rows `first` to before `body` hold headings; `names` has one for each column of the area."""

    first: int
    body: int
    names: tuple[str, ...]
    lines: tuple[ReceiptLine, ...]


def heading_rows(area: Area, *, wanted: int | None, is_fixed: bool) -> HeadingRows:
    """Return the headings of a table.

    `wanted` is the number of heading rows that the user says; `is_fixed` says that they begin in
    the first row of the area.

    Raises
    ------
    FileError
        If it cannot be told which rows hold headings.
    """
    first = area.top if is_fixed else _first_wide_row(area)
    if wanted == 0:
        return _letters(area, first)
    if wanted is None and not any(area.is_word(first, j) for j in area.columns):
        raise _no_headings(area, first)
    numeric = _numeric_columns(area, first)
    above = 0 if is_fixed else _group_rows_above(area, first, wanted=wanted)
    n_rows = wanted - above if wanted is not None else _levels(area, first, numeric)
    last = first + max(n_rows, 1) - 1
    units = last + 1 if wanted is None and _is_unit_row(area, last + 1, numeric) else None
    if wanted is not None and last > first and _is_unit_row(area, last, numeric):
        units, last = last, last - 1
    body = (last if units is None else units) + 1
    names = _names(area, range(first - above, last + 1))
    if units is not None:
        names = _with_units(area, names, units)
    lines = _lines(area, names, first - above, last=last, units=units)
    return HeadingRows(first=first - above, body=body, names=names, lines=lines)


def _first_wide_row(area: Area) -> int:
    rows = range(area.top, min(area.bottom, area.top + ROWS_LOOKED_AT))
    widest = max(area.count(row) for row in rows)
    enough = max(min(2, widest), WIDE * widest)
    return next(row for row in rows if area.count(row) >= enough)


def _numeric_columns(area: Area, first: int) -> tuple[int, ...]:
    below = area.part(top=first)
    return below.numeric_columns()


def _levels(area: Area, first: int, numeric: Sequence[int]) -> int:
    """Return how many rows of headings stand from the first wide one on."""
    n_rows = 1
    while n_rows < LEVELS_AT_MOST and first + n_rows < area.bottom:
        row = first + n_rows
        if (
            area.is_ruled(row)
            or _is_unit_row(area, row, numeric)
            or not _may_be_heading(area, row, numeric)
        ):
            break
        if not (_is_merged_over(area, row - 1) or _is_needed(area, row - 1, row)):
            _ask_if_full(area, first, row=row, numeric=numeric)
            break
        n_rows += 1
    return n_rows


def _may_be_heading(area: Area, row: int, numeric: Sequence[int]) -> bool:
    words = [j for j in numeric if area.is_word(row, j)]
    return bool(words) and not any(area.is_number(row, j) for j in numeric)


def _is_merged_over(area: Area, row: int) -> bool:
    """Whether a merged cell in this row spans some columns of the table, but not all of it."""
    return any(
        span.top <= row <= span.bottom
        and span.left < span.right
        and not (span.left <= area.left and span.right >= area.right - 1)
        and area.left <= span.left < area.right
        for span in area.grid.merged
    )


def _is_needed(area: Area, above: int, below: int) -> bool:
    """Whether headings are missing or stand twice in the upper row and the lower one helps."""
    upper, lower = area.texts(above), area.texts(below)
    missing = [j for j, text in enumerate(upper) if not text]
    twice = [j for j, text in enumerate(upper) if text and upper.count(text) > 1]
    helped = [j for j in (*missing, *twice) if lower[j]]
    pairs = [(upper[j], lower[j]) for j in twice]
    return bool(helped) and len(set(pairs)) == len(pairs)


def _ask_if_full(area: Area, first: int, *, row: int, numeric: Sequence[int]) -> None:
    if len(numeric) < 2 or not all(area.is_word(row, j) for j in numeric):
        return
    shown = ", ".join(text for text in area.texts(row) if text)
    raise FileError(
        f"Row {row + 1} holds words over numbers ({shown[:60]}): headings or a run.",
        why="It cannot be told where the headings end.",
        next_step=f"Say how many rows of headings there are: --headings 2 or --headings 1; or "
        f"where they begin: --table {cell_name(row, area.left)}.",
        place=f"{area.source}, row {first + 1}",
    )


def _group_rows_above(area: Area, first: int, *, wanted: int | None) -> int:
    """Return 1 if the narrower row above the headings groups them, 0 if it is a note."""
    above = first - 1
    if above < area.top or not area.count(above):
        return 0
    if any(area.is_number(above, j) for j in area.columns):
        return 0
    if _is_merged_over(area, above) or _stands_twice(area.texts(first)):
        return 1
    filled = [j for j in area.columns if area.grid.text(above, j)]
    if wanted is not None:
        return int(wanted > 1 and len(filled) > 1)
    if len(filled) < 2 or filled == [area.left, area.left + 1]:
        return 0
    raise FileError(
        f"Row {above + 1} may group the headings in row {first + 1}, or be a note above them.",
        why="It fills some of the columns only.",
        next_step=f"Say how many rows of headings there are: --headings 2; or where they begin: "
        f"--table {cell_name(first, area.left)}.",
        place=f"{area.source}, row {above + 1}",
    )


def _stands_twice(texts: Sequence[str]) -> bool:
    said = [text.casefold() for text in texts if text]
    return len(set(said)) < len(said)


def _is_unit_row(area: Area, row: int, numeric: Sequence[int]) -> bool:
    """Whether a row holds units, over numbers, and nothing else."""
    if row >= area.bottom - 1:
        return False
    texts = area.texts(row)
    if texts[0].casefold().rstrip(":") in UNIT_LABELS:
        texts[0] = ""
    rest = [text for text in texts if text.casefold() not in NO_UNIT]
    over = [j for j in area.columns if unit_kind(_bare(area.grid.text(row, j))) and j in numeric]
    return bool(rest) and bool(over) and all(unit_kind(_bare(text)) for text in rest)


def _bare(text: str) -> str:
    is_bracketed = text[:1] + text[-1:] in ("[]", "()")
    return text[1:-1].strip() if is_bracketed else text.removeprefix("in ").strip()


def _with_units(area: Area, names: tuple[str, ...], row: int) -> tuple[str, ...]:
    found = []
    for name, text, column in zip(names, area.texts(row), area.columns, strict=True):
        unit = _bare(text)
        is_unit = text.casefold() not in NO_UNIT and unit_kind(unit) is not None
        parts = taken_apart(name)
        if is_unit and parts.unit and parts.unit != normal_unit(unit):
            raise FileError(
                f"The heading says {parts.unit}, the row of units below it {unit}.",
                why="It cannot be told which unit the numbers are in.",
                next_step="Correct the one that is wrong.",
                place=f"{area.source}, cell {cell_name(row, column)}",
            )
        found.append(with_unit(parts.name, normal_unit(unit)) if is_unit and name else name)
    return tuple(found)


def _names(area: Area, rows: range) -> tuple[str, ...]:
    """Return the heading over each column, of several rows joined by commas, the unit last."""
    if len(rows) == 1:
        return tuple(" ".join(_shown(area, rows[0], j).split()) for j in area.columns)
    return tuple(
        _joined([_of_level(area, row, j, rows=rows) for row in rows]) for j in area.columns
    )


def _joined(levels: Sequence[str]) -> str:
    said = list(dict.fromkeys(" ".join(text.split()) for text in levels if text))
    parts = [taken_apart(text) for text in said]
    unit = next((part.unit for part in parts if part.unit), "")
    return with_unit(", ".join(part.name for part in parts), unit)


def _of_level(area: Area, row: int, column: int, *, rows: range) -> str:
    text = _shown(area, row, column)
    if text or row == rows[-1] or any(_is_merged_over(area, one) for one in rows):
        return text
    # Without merged cells a group heading goes on to the right until the next one.
    if not any(area.grid.text(below, column) for below in range(row + 1, rows[-1] + 1)):
        return ""
    return next(
        (
            area.grid.text(row, j)
            for j in range(column, area.left - 1, -1)
            if area.grid.text(row, j)
        ),
        "",
    )


def _shown(area: Area, row: int, column: int) -> str:
    """Return the text of a cell, of the whole merged cell if it is part of one."""
    for span in area.grid.merged:
        if span.top <= row <= span.bottom and span.left <= column <= span.right:
            return area.grid.text(span.top, span.left)
    return area.grid.text(row, column)


def _letters(area: Area, first: int) -> HeadingRows:
    names = tuple(f"column {column_letters(column)}" for column in area.columns)
    line = ReceiptLine(
        where=area.source, met="--headings 0", understood="columns are named by their letters"
    )
    return HeadingRows(first=first, body=first, names=names, lines=(line,))


def _no_headings(area: Area, first: int) -> FileError:
    shown = ", ".join(text for text in area.texts(first) if text)
    return FileError(
        f"The first row holds numbers only: {shown[:60]}.",
        why="It cannot be told whether they are headings or the first run.",
        next_step="Say so: --headings 1 if they are headings, --headings 0 if there are none.",
        place=f"{area.source}, row {first + 1}",
    )


def _lines(
    area: Area, names: tuple[str, ...], first: int, *, last: int, units: int | None
) -> tuple[ReceiptLine, ...]:
    lines = []
    for row in range(area.top, first):
        shown = "; ".join(text for text in area.texts(row) if text)
        if shown:
            lines.append(
                ReceiptLine(
                    where=f"{area.source}, row {row + 1}",
                    met=f"a note above the headings: {shown[:80]}",
                    understood="left out",
                )
            )
    if last > first:
        joined = "; ".join(dict.fromkeys(name for name in names if ", " in name))
        lines.append(
            ReceiptLine(
                where=f"{area.source}, rows {first + 1} to {last + 1}",
                met=f"{last - first + 1} rows of headings",
                understood=f"joined: {joined[:200]}",
                sure=any(_is_merged_over(area, row) for row in range(first, last + 1)),
            )
        )
    if units is not None:
        lines.append(
            ReceiptLine(
                where=f"{area.source}, row {units + 1}",
                met="a row of units below the headings",
                understood="the unit of each column",
            )
        )
    return tuple(lines)
