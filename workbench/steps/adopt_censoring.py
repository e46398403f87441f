"""Readings that are cut off: beyond a limit of the gauge, or marked so in another column."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from workbench.errors import OptionError
from workbench.files.headings import unguarded
from workbench.steps.adopt_layout import find_heading

if TYPE_CHECKING:
    from workbench.files.raw_table import RawTable
    from workbench.files.reading_columns import CellReading
    from workbench.steps.adopt_options import OutcomeWish

PLAIN = ("", "ok", "exact", "read", "plain", "no", "failed", "event")
ABOVE = (">", "above", "cut off above", "censored above", "right", "right-censored", "unfailed")
BELOW = ("<", "below", "cut off below", "censored below", "left", "left-censored")


def with_cut_off(
    table: RawTable, wish: OutcomeWish, readings: tuple[CellReading | None, ...]
) -> tuple[CellReading | None, ...]:
    """Return the readings with marks for those at or beyond a stated limit, or said to be so.

    Raises
    ------
    OptionError
        If a word in the status column does not say which way a reading is cut off.
    """
    marked = tuple(_beyond(one, wish) for one in readings)
    if not wish.status:
        return marked
    heading = find_heading(table, wish.status, option="--outcome status=")
    return tuple(
        _said(one, cell.text, table.place(row, heading))
        for row, (one, cell) in enumerate(zip(marked, table.column(heading), strict=True))
    )


def _beyond(one: CellReading | None, wish: OutcomeWish) -> CellReading | None:
    if one is None:
        return None
    if wish.censored_above is not None and one.value >= wish.censored_above:
        return replace(one, mark=1)
    if wish.censored_below is not None and one.value <= wish.censored_below:
        return replace(one, mark=-1)
    return one


def _said(one: CellReading | None, text: str, place: str) -> CellReading | None:
    word = unguarded(text.strip()).casefold()
    if word in PLAIN or one is None:
        return one
    if word in ABOVE:
        return replace(one, mark=1)
    if word in BELOW:
        return replace(one, mark=-1)
    raise OptionError(
        f"{text.strip()!r} does not say whether the reading is cut off, and which way.",
        why="A reading that is cut off counts as a limit, not as a value.",
        next_step=f"Write {ABOVE[1]!r}, {BELOW[1]!r} or nothing in each row of that column.",
        place=place,
    )
