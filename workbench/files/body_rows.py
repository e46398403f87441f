"""Rows between and below the runs that are no runs: repeated headings, notes, ruled lines."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.files.grid_areas import RULED
from workbench.run.receipt import ReceiptLine

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from workbench.files.grid_areas import Area
    from workbench.files.heading_rows import HeadingRows

_FOOTNOTE = re.compile(r"[*†‡]|\(?[1-9a-z]\)\s|(note|notes|remark|legend|source)\b", re.IGNORECASE)
SHOWN_AT_MOST = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class BodyRows:
    """Rows of the grid that hold runs, top to bottom, and why the others do not."""

    rows: tuple[int, ...]
    lines: tuple[ReceiptLine, ...]


def body_rows(area: Area, headings: HeadingRows) -> BodyRows:
    """Return the rows of a table below its headings that may hold runs."""
    counts = area.filled[headings.body : area.bottom, area.left : area.right].sum(axis=1)
    rows = (np.flatnonzero(counts) + headings.body).tolist()
    repeated = _repeated(area, headings, rows)
    ruled = _ruled(area, rows)
    notes = _notes(area, headings, [row for row in rows if row not in repeated | ruled])
    empty = (np.flatnonzero(counts == 0) + headings.body).tolist()
    lines = [
        *_line(area, empty, "empty rows", one="an empty row"),
        *_line(area, sorted(repeated), "rows that repeat the headings", one="the headings again"),
        *_line(area, sorted(ruled), "ruled lines", one="a ruled line"),
    ]
    for row in notes[:SHOWN_AT_MOST]:
        shown = "; ".join(text for text in area.texts(row) if text)
        lines += _line(area, [row], "", one=f"a note, no run: {shown[:80]}", sure=False)
    lines += _line(area, notes[SHOWN_AT_MOST:], "more notes", one="one more note", sure=False)
    left_out = {*repeated, *ruled, *notes}
    kept = tuple(row for row in rows if row not in left_out) if left_out else tuple(rows)
    return BodyRows(rows=kept, lines=tuple(lines))


def _repeated(area: Area, headings: HeadingRows, rows: Sequence[int]) -> set[int]:
    """Return the rows that say the same as a row of the headings."""
    found: set[int] = set()
    for heading in range(headings.first, headings.body):
        said = area.texts(heading)
        key = next((j for j, text in enumerate(said) if text), None)
        if key is None:
            continue
        column = area.left + key
        if said[key] not in _texts_in(area, column, rows):
            continue
        alike = [row for row in rows if area.grid.text(row, column) == said[key]]
        found.update(row for row in alike if sum(map(bool, said)) > 1 and area.texts(row) == said)
    return found


def _texts_in(area: Area, column: int, rows: Sequence[int]) -> set[str]:
    texts = area.grid.texts
    return {texts[row][column] for row in rows if column < len(texts[row])}


def _ruled(area: Area, rows: Sequence[int]) -> set[int]:
    ends = _texts_in(area, area.left, rows) | _texts_in(area, area.right - 1, rows)
    if not any(RULED.fullmatch(text) for text in ends):
        return set()
    return {row for row in rows if area.is_ruled(row)}


def _notes(area: Area, headings: HeadingRows, rows: Sequence[int]) -> list[int]:
    """Return the rows with words in one cell alone, where the table has numbers or ends."""
    if area.right - area.left < 2:
        return []
    counts = area.filled[:, area.left : area.right].sum(axis=1)
    single = [row for row in rows if counts[row] == 1]
    if not single:
        return []
    filled = Counter(counts[list(rows)].tolist())
    if filled.most_common(1)[0][0] <= 1:
        return []
    numeric = area.part(top=headings.body - 1).numeric_columns()
    last = max((row for row in rows if counts[row] > 1), default=area.bottom)
    return [row for row in single if _is_note(area, row, numeric, is_below=row > last)]


def _is_note(area: Area, row: int, numeric: Sequence[int], *, is_below: bool) -> bool:
    column = next(j for j in area.columns if area.grid.text(row, j))
    if not area.is_word(row, column) or column not in (area.left, *numeric):
        return False
    text = area.grid.text(row, column)
    if is_below and (_FOOTNOTE.match(text) or not area.count(row - 1)):
        return True
    # A word alone in a column of numbers would be a broken run in the middle of the row.
    return column == area.left and column in numeric


def _line(
    area: Area, rows: Iterable[int], many: str, *, one: str, sure: bool = True
) -> list[ReceiptLine]:
    numbers = [row + 1 for row in rows]
    if not numbers:
        return []
    shown = ", ".join(map(str, numbers[:SHOWN_AT_MOST]))
    more = " …" if len(numbers) > SHOWN_AT_MOST else ""
    return [
        ReceiptLine(
            where=f"{area.source}, row {shown}{more}",
            met=many if len(numbers) > 1 else one,
            understood="left out",
            sure=sure,
        )
    ]
