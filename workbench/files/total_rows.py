"""Rows of totals and means among the runs: told by their label and by their numbers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import FileError
from workbench.files.numbers import Decimal, looks_like_number, proved_mark, read_number
from workbench.files.statistics_of import Statistic, agrees, statistic_named
from workbench.run.receipt import ReceiptLine

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from workbench.files.raw_table import Cells

ROWS_SUMMED_AT_MOST = 20_000
LABELS_AT_MOST = 0.5  # of all rows; more, and the words are levels or readings


@dataclass(frozen=True, slots=True, kw_only=True)
class TotalRows:
    """Places (from 0) of the rows that are totals and left out, and what was assumed."""

    places: tuple[int, ...]
    lines: tuple[ReceiptLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Rows:
    """Columns of a table (numbers NaN where none stands), with the row numbers a person sees."""

    columns: Sequence[Cells]
    values: NDArray[np.float64]
    numbers: Sequence[int]
    source: str


def total_rows(
    columns: Sequence[Cells], numbers: Sequence[int], *, wanted: str, source: str
) -> TotalRows:
    """Return the rows that are totals, means or the like of the rows above them.

    A row is one if it is labelled so and its numbers agree. `wanted` is what the user says of rows
    where only one of the two holds: "keep", "leave-out" or empty.

    Raises
    ------
    FileError
        If only one of the two holds and nothing is said.
    """
    if len(numbers) > ROWS_SUMMED_AT_MOST or len(numbers) < 3:
        return TotalRows(places=(), lines=())
    labels = _labels(columns)
    if not labels and not _may_end_in_totals(columns):
        return TotalRows(places=(), lines=())
    values = np.column_stack([_values(one) for one in columns])
    rows = _Rows(columns=columns, values=values, numbers=numbers, source=source)
    if not labels:
        return _unlabelled(rows, wanted)
    return _labelled(rows, labels, wanted)


def _labels(columns: Sequence[Cells]) -> dict[int, Statistic]:
    """Return the statistic that a row is labelled with, in its first filled cell."""
    found: dict[int, Statistic] = {}
    n = len(columns[0])
    named = {
        text: statistic
        for one in columns
        for text in set(one.texts)
        if text and (statistic := statistic_named(text)) is not None
    }
    if not named:
        return {}
    for row in range(n):
        first = next((one.texts[row] for one in columns if one.texts[row]), "")
        if first in named:
            found[row] = named[first]
    return found if len(found) <= LABELS_AT_MOST * n else {}


def _labelled(rows: _Rows, labels: dict[int, Statistic], wanted: str) -> TotalRows:
    runs = [row for row in range(len(rows.numbers)) if row not in labels]
    places, lines = [], []
    for row, statistic in labels.items():
        agreed = _agrees_above(rows, row, runs=runs, labels=labels)
        if not agreed and row < runs[-1] and _is_level(rows, row):
            continue
        if not agreed and wanted != "leave-out":
            if not wanted:
                raise _asked(rows, row, why="Its label says so, its numbers do not agree.")
            lines.append(_line(rows, row, "labelled like a total", understood="kept as a run"))
            continue
        places.append(row)
        met = f"a row of the {statistic} of the rows above" if agreed else "labelled like a total"
        lines.append(_line(rows, row, met, understood="left out, no run"))
    return TotalRows(places=tuple(places), lines=tuple(lines))


def _agrees_above(
    rows: _Rows, row: int, *, runs: Sequence[int], labels: dict[int, Statistic]
) -> bool:
    """Whether each number in a row is its statistic of all runs above, or since the last total."""
    statistic = labels[row]
    above = [one for one in runs if one < row]
    ends = [one for one in labels if one < row and one + 1 in runs]
    since = [one for one in above if not ends or one > max(ends)]
    label = next(j for j, one in enumerate(rows.columns) if one.texts[row])
    places = [
        j for j in range(len(rows.columns)) if j != label and np.isfinite(rows.values[row, j])
    ]
    return bool(places) and any(
        len(some) > 1
        and all(
            agrees(
                statistic,
                rows.values[some, j],
                text=rows.columns[j].texts[row],
                stated=rows.values[row, j],
            )
            for j in places
        )
        for some in (above, since)
    )


def _is_level(rows: _Rows, row: int) -> bool:
    """Whether the word in a row stands in others of its column too, between runs."""
    column = next(one for one in rows.columns if one.texts[row])
    words = sum(bool(text) and not _is_number(text) for text in column.texts)
    return words > LABELS_AT_MOST * len(column)


def _may_end_in_totals(columns: Sequence[Cells]) -> bool:
    """Whether the last row lacks a value in a column that has one in every other row."""
    return any(not one.texts[-1] and all(one.texts[:-1]) for one in columns)


def _unlabelled(rows: _Rows, wanted: str) -> TotalRows:
    row = len(rows.numbers) - 1
    places = [j for j in range(len(rows.columns)) if np.isfinite(rows.values[row, j])]
    above = rows.values[:row]
    alike = [
        statistic
        for statistic in (Statistic.MEAN, Statistic.SUM)
        if places
        and all(
            agrees(
                statistic, above[:, j], text=rows.columns[j].texts[row], stated=rows.values[row, j]
            )
            and np.unique(above[np.isfinite(above[:, j]), j]).size > 1
            for j in places
        )
    ]
    if not alike:
        return TotalRows(places=(), lines=())
    if not wanted:
        why = f"Its numbers are the {alike[0]} of those above, but nothing says so."
        raise _asked(rows, row, why=why)
    kept = wanted == "keep"
    line = _line(
        rows,
        row,
        f"numbers that are the {alike[0]} of those above",
        understood="kept as a run" if kept else "left out, no run",
    )
    return TotalRows(places=() if kept else (row,), lines=(line,))


def _values(cells: Cells) -> NDArray[np.float64]:
    marks = {proved_mark(text) for text in set(cells.texts)} - {Decimal.UNKNOWN}
    decimal = marks.pop() if len(marks) == 1 else Decimal.EITHER
    known = {text: _value(text, decimal) for text in set(cells.texts)}
    return np.array([known[c.text] if c.number is None else c.number for c in cells])


def _value(text: str, decimal: Decimal) -> float:
    try:
        found = read_number(text, decimal=decimal, place="")
    except FileError:
        return np.nan
    return np.nan if found is None else found.value


def _is_number(text: str) -> bool:
    return looks_like_number(text, Decimal.EITHER)


def _line(rows: _Rows, row: int, met: str, *, understood: str) -> ReceiptLine:
    label = next(one.texts[row] for one in rows.columns if one.texts[row])
    return ReceiptLine(
        where=f"{rows.source}, row {rows.numbers[row]}",
        met=f"{label!r}: {met}" if not _is_number(label) else met,
        understood=understood,
    )


def _asked(rows: _Rows, row: int, *, why: str) -> FileError:
    label = next(one.texts[row] for one in rows.columns if one.texts[row])
    return FileError(
        f"The row that begins with {label!r} may be a total or a run.",
        why=why,
        next_step="Say what such rows are: --totals leave-out or --totals keep.",
        place=f"{rows.source}, row {rows.numbers[row]}",
    )
