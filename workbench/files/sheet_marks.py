"""What a sheet shows beside its values: merged, hidden, crossed-out and calculated cells."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.files.grid import cell_name, column_letters
from workbench.files.raw_table import Cells
from workbench.run.receipt import ReceiptLine

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from workbench.files.grid import Grid

NAMED_AT_MOST = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Filled:
    """Columns with the values of merged cells in every row that they cover."""

    cells: tuple[Cells, ...]
    lines: tuple[ReceiptLine, ...]


def filled_down(
    grid: Grid,
    cells: Sequence[Cells],
    rows: Sequence[int],
    *,
    places: Sequence[int],
    source: str,
) -> Filled:
    """Return columns in which the value of a cell merged down holds for each of its rows.

    `rows` are those of the grid, `places` the columns. A cell merged across columns keeps its
    value in the first of them.
    """
    texts = {j: list(one.texts) for j, one in zip(places, cells, strict=True)}
    numbers = {j: one.numbers and list(one.numbers) for j, one in zip(places, cells, strict=True)}
    down: list[str] = []
    across: list[str] = []
    for span in sorted(grid.merged, key=lambda one: (one.top, one.left)):
        first, last = bisect_left(rows, span.top), bisect_right(rows, span.bottom)
        if span.left not in texts or first >= last or not grid.text(span.top, span.left):
            continue
        name = f"{cell_name(span.top, span.left)}:{cell_name(span.bottom, span.right)}"
        if span.left < span.right:
            across.append(name)
            continue
        down.append(name)
        for i in range(first, last):
            texts[span.left][i] = grid.text(span.top, span.left)
            own = numbers[span.left]
            if own:
                own[i] = grid.number(span.top, span.left)
    if not down and not across:
        return Filled(cells=tuple(cells), lines=())
    lines = [
        *_named(down, "merged down", "the value holds for each row", source=source, sure=True),
        *_named(across, "merged across", "the value is of the first column alone", source=source),
    ]
    filled = tuple(
        Cells(texts=tuple(texts[j]), numbers=tuple(own) if (own := numbers[j]) else None)
        for j in places
    )
    return Filled(cells=filled, lines=tuple(lines))


def look_lines(
    grid: Grid,
    rows: Sequence[int],
    places: Sequence[int],
    *,
    headings: Sequence[str],
    source: str,
) -> list[ReceiptLine]:
    """Return what is said of hidden, crossed-out and calculated cells that are read."""
    inside, used = set(rows), set(places)
    hidden = [row + 1 for row in rows if row in grid.hidden_rows]
    columns = [
        f"{column_letters(j)} ({heading})"
        for j, heading in zip(places, headings, strict=True)
        if j in grid.hidden_columns
    ]
    struck = [
        cell_name(at.row, at.column)
        for at in sorted(grid.struck)
        if at.row in inside and at.column in used
    ]
    n_formulas = sum(at.row in inside and at.column in used for at in grid.formulas)
    lines = [
        *_listed("row", hidden, "hidden or filtered away", source=source),
        *_listed("column", columns, "hidden", source=source),
        *_named(
            struck,
            "crossed out",
            "read as it stands; exclude the run if it is void",
            source=source,
        ),
    ]
    if n_formulas:
        lines.append(
            ReceiptLine(
                where=source,
                met=f"{n_formulas} cells with formulas"
                if n_formulas > 1
                else "a cell with a formula",
                understood="their last calculated values are taken",
                sure=False,
            )
        )
    return lines


def _listed(what: str, which: Sequence[object], met: str, *, source: str) -> list[ReceiptLine]:
    if not which:
        return []
    return [
        ReceiptLine(
            where=f"{source}, {what} {_shown(which)}", met=met, understood="read all the same",
            sure=False,
        )
    ]  # fmt: skip


def _named(
    names: Sequence[str], met: str, understood: str, *, source: str, sure: bool = False
) -> list[ReceiptLine]:
    if not names:
        return []
    where = f"{source}, cell {_shown(names)}"
    return [ReceiptLine(where=where, met=met, understood=understood, sure=sure)]


def _shown(which: Iterable[object]) -> str:
    all_of_them = [str(one) for one in which]
    more = " …" if len(all_of_them) > NAMED_AT_MOST else ""
    return ", ".join(all_of_them[:NAMED_AT_MOST]) + more
