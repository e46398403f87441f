"""Readings that are cut off: beyond a limit of the gauge, or marked so in another column."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from workbench.errors import OptionError
from workbench.files.headings import unguarded
from workbench.run.receipt import ReceiptLine
from workbench.steps.adopt_sorting import find_heading

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from numpy.typing import NDArray

    from workbench.files.raw_table import RawTable
    from workbench.files.reading_columns import CellReading
    from workbench.steps.adopt_options import OutcomeWish

PLAIN = ("", "ok", "exact", "read", "plain", "no", "failed", "event")
ABOVE = (">", "above", "cut off above", "censored above", "right", "right-censored", "unfailed")
BELOW = ("<", "below", "cut off below", "censored below", "left", "left-censored")


def is_cut_off_word(text: str) -> bool:
    """Return whether a text says that a reading is cut off, or that it is not."""
    return text.strip().casefold() in (*PLAIN, *ABOVE, *BELOW)


@dataclass(frozen=True, slots=True, kw_only=True)
class CutOff:
    """Readings with their marks, and the lines that say how the marks were understood."""

    readings: tuple[CellReading | None, ...]
    lines: tuple[ReceiptLine, ...]


def with_cut_off(
    table: RawTable,
    wish: OutcomeWish,
    readings: tuple[CellReading | None, ...],
    *,
    settings: NDArray[np.int64],
) -> CutOff:
    """Return the readings with marks for those at or beyond a stated limit, or said to be so.

    `settings` (n,) numbers the combinations of settings: a test that ends at a stated time leaves
    the parts that did not fail at the longest time of their settings.

    Raises
    ------
    OptionError
        If a word in the status column does not say which way a reading is cut off.
    """
    marked = tuple(_beyond(one, wish) for one in readings)
    if not wish.status:
        return CutOff(readings=marked, lines=())
    heading = find_heading(table, wish.status, option="--outcome status=")
    texts = [unguarded(cell.text.strip()).casefold() for cell in table.column(heading)]
    column = _Marks(table=table, heading=heading, texts=texts)
    cut_off = wish.cut_off.casefold()
    lines: tuple[ReceiptLine, ...] = ()
    if not cut_off and {text for text in texts if text} == {"0", "1"}:
        longest = _are_longest(marked, settings)
        cut_off = _by_longest(column, longest, wish)
        lines = (_evidence(column, cut_off, wish),)
    if cut_off and cut_off not in texts:
        raise OptionError(
            f"No row of {heading!r} holds {wish.cut_off!r}.",
            why="cut_off names the mark of readings that are cut off.",
            next_step=f"Use one of: {', '.join(sorted(set(texts)))}.",
            place=f"--outcome {wish.name}",
        )
    found = tuple(_said(one, column, row, cut_off=cut_off) for row, one in enumerate(marked))
    n_marked = sum(one is not None and one.mark != 0 for one in found)
    lines = (
        *lines,
        ReceiptLine(
            where=table.column_place(heading),
            met=f"marks of cut-off readings of {wish.name!r}",
            understood=f"{n_marked} of {len(found)} readings are limits, not values",
        ),
    )
    return CutOff(readings=found, lines=lines)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Marks:
    table: RawTable
    heading: str
    texts: list[str]


def _by_longest(column: _Marks, longest: Sequence[bool], wish: OutcomeWish) -> str:
    """Return the code whose readings are the longest of their settings, if only one is so."""
    fits = [
        code
        for code in ("0", "1")
        if all(is_one for is_one, text in zip(longest, column.texts, strict=True) if text == code)
    ]
    if len(fits) == 1:
        return fits[0]
    raise OptionError(
        "The column holds 0 and 1; it cannot be told which of them marks a reading that is cut "
        "off.",
        why="A part that had not failed when its test ended counts as a limit, not as a value.",
        next_step=f'Say which: --outcome "{wish.name}:status={wish.status},cut_off=0" or '
        "cut_off=1.",
        place=column.table.column_place(column.heading),
    )


def _are_longest(
    readings: tuple[CellReading | None, ...], settings: NDArray[np.int64]
) -> list[bool]:
    """Return whether each reading is the longest of its settings."""
    longest: dict[int, float] = {}
    groups = settings.tolist()
    for one, group in zip(readings, groups, strict=True):
        if one is not None:
            longest[group] = max(one.value, longest.get(group, one.value))
    return [
        one is None or one.value == longest[group]
        for one, group in zip(readings, groups, strict=True)
    ]


def _evidence(column: _Marks, cut_off: str, wish: OutcomeWish) -> ReceiptLine:
    other = "1" if cut_off == "0" else "0"
    return ReceiptLine(
        where=column.table.column_place(column.heading),
        met=f"0 and 1; every row with {cut_off} is the longest of its settings, rows with "
        f"{other} are not",
        understood=f"{cut_off} marks what was cut off above (not failed yet); "
        f'--outcome "{wish.name}:status={wish.status},cut_off={other}" decides otherwise',
        sure=False,
    )


def _beyond(one: CellReading | None, wish: OutcomeWish) -> CellReading | None:
    if one is None:
        return None
    if wish.censored_above is not None and one.value >= wish.censored_above:
        return replace(one, mark=1)
    if wish.censored_below is not None and one.value <= wish.censored_below:
        return replace(one, mark=-1)
    return one


def _said(
    one: CellReading | None, column: _Marks, row: int, *, cut_off: str
) -> CellReading | None:
    word = column.texts[row]
    if one is None or (cut_off and word != cut_off):
        return one
    if cut_off or word in ABOVE:
        return replace(one, mark=1)
    if word in PLAIN:
        return one
    if word in BELOW:
        return replace(one, mark=-1)
    raise OptionError(
        f"{word!r} does not say whether the reading is cut off, and which way.",
        why="A reading that is cut off counts as a limit, not as a value.",
        next_step=f"Write {ABOVE[1]!r}, {BELOW[1]!r} or nothing in each row of that column; or "
        "say which word marks the cut off: cut_off=WORD.",
        place=column.table.place(row, column.heading),
    )
