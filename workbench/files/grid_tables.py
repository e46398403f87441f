"""Which tables stand on a sheet, side by side or one below the other, and which is meant."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import FileError
from workbench.files.analysis_blocks import is_all_formulas, is_analysis
from workbench.files.grid import cell_name, column_number
from workbench.files.grid_areas import stretches
from workbench.run.receipt import ReceiptLine

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.files.grid_areas import Area

NAMED_AT_MOST = 8
PAIRS_BESIDE_NUMBERS = 3  # columns; a narrower block above such a table states conditions
_CELL = re.compile(r"([A-Za-z]{1,3})([0-9]{1,7})(?::([A-Za-z]{1,3})([0-9]{1,7}))?")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chosen:
    """The table that is meant; `is_fixed` if the user named the cell where its headings begin."""

    area: Area
    is_fixed: bool
    lines: tuple[ReceiptLine, ...]


def chosen_table(whole: Area, *, wanted: str) -> Chosen:
    """Return the table that is meant: the one wanted, or the only one that is no analysis.

    Raises
    ------
    FileError
        If several may be meant, or the one wanted is not there.
    """
    cell = _CELL.fullmatch(wanted)
    if cell is not None and cell[3]:
        return _range(whole, cell)
    found = _tables(whole)
    if cell is not None:
        return _at_cell(found.areas, cell)
    if wanted:
        if int(wanted) > len(found.areas):
            raise _asked(found.areas, wrong=f"There is no table {wanted}.")
        return Chosen(area=found.areas[int(wanted) - 1], is_fixed=False, lines=found.lines)
    runs = [area for area in found.areas if not is_analysis(area)]
    if len(found.areas) == 1 or len(runs) == 1:
        area = found.areas[0] if len(found.areas) == 1 else runs[0]
        others = [one for one in found.areas if one is not area]
        lines = (*found.lines, *(_analysis_line(one) for one in others))
        return Chosen(area=area, is_fixed=False, lines=lines)
    raise _asked(found.areas, wrong=f"{len(found.areas)} tables stand here.")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Found:
    areas: tuple[Area, ...]
    lines: tuple[ReceiptLine, ...]


def _tables(whole: Area) -> _Found:
    lines: list[ReceiptLine] = []
    areas: list[Area] = []
    for side in _sides(whole, lines):
        areas += _stacked(side, lines)
    if not areas:
        areas = [whole]
    areas.sort(key=lambda area: (area.top, area.left))
    return _Found(areas=tuple(areas), lines=tuple(lines))


def _sides(whole: Area, lines: list[ReceiptLine]) -> list[Area]:
    """Return the blocks that empty columns part, those of one table joined again."""
    used = whole.used_columns()
    blocks = [
        replace(whole, left=whole.left + one[0], right=whole.left + one[-1] + 1)
        for one in stretches(used)
    ]
    if len(blocks) < 2:
        return blocks
    main = max(range(len(blocks)), key=lambda i: int(blocks[i].cells().sum()))
    first = last = main
    while first > 0 and _belongs(blocks[first - 1], blocks[main]):
        first -= 1
    while last + 1 < len(blocks) and _belongs(blocks[last + 1], blocks[main]):
        last += 1
    beside = [*blocks[:first], *blocks[last + 1 :]]
    table = replace(blocks[main], left=blocks[first].left, right=blocks[last].right)
    if last > first:
        lines.append(
            ReceiptLine(
                where=whole.source,
                met="an empty column between columns with values in the same rows",
                understood="one table",
                sure=False,
            )
        )
    notes = [block for block in beside if _is_note(block)]
    lines += [_note_line(block, where="beside the table") for block in notes]
    return [table, *(block for block in beside if not any(block is one for one in notes))]


def _belongs(block: Area, main: Area) -> bool:
    """Whether a block beyond an empty column is of the same table: same rows, other headings."""
    rows, own = main.used_rows(), block.used_rows()
    first = int(np.argmax(own))
    here, there = _heading_texts(block, first), _heading_texts(main, first)
    if here & there or is_all_formulas(block):
        return False
    if np.array_equal(rows, own) or np.array_equal(rows[first:], own[first:]):
        return bool(there)
    has_numbers = any(
        block.is_number(row, j)
        for row in range(block.top + first + 1, block.bottom)
        for j in block.columns
        if own[row - block.top]
    )
    return not has_numbers and len(there) > 1 and own.sum() > 1 and not np.any(own & ~rows)


def _heading_texts(area: Area, first: int) -> set[str]:
    return {text.casefold() for text in area.texts(area.top + first) if text}


def _is_note(area: Area) -> bool:
    """Whether a block holds words alone, in one column, or a single cell."""
    used = area.part()
    cells = np.argwhere(used.cells())
    if len(cells) == 1:
        return True
    return used.right - used.left == 1 and not any(
        used.is_number(used.top + int(i), used.left) for i, _ in cells
    )


def _stacked(side: Area, lines: list[ReceiptLine]) -> list[Area]:
    """Return the tables that stand one below the other."""
    used = side.used_rows()
    bands = [
        side.part(top=side.top + one[0], bottom=side.top + one[-1] + 1) for one in stretches(used)
    ]
    areas: list[Area] = []
    for k, band in enumerate(bands):
        if not areas and k + 1 < len(bands) and _states_conditions(band, bands[k + 1 :]):
            lines.append(_note_line(band, where="above the table"))
        elif areas and not _is_new_table(band, areas[-1]):
            last = areas[-1]
            areas[-1] = replace(
                last,
                bottom=band.bottom,
                left=min(last.left, band.left),
                right=max(last.right, band.right),
            )
        else:
            areas.append(band)
    return areas


def _states_conditions(band: Area, below: Sequence[Area]) -> bool:
    """Whether a block of notes or of names with their values stands above a wider table."""
    width = band.right - band.left
    wider = [one for one in below if one.right - one.left > width and one.n_rows > 1]
    if not wider:
        return False
    if max(band.count(row) for row in range(band.top, band.bottom)) == 1:
        return True
    enough = any(one.right - one.left >= PAIRS_BESIDE_NUMBERS for one in wider)
    names = all(band.is_word(row, band.left) for row in range(band.top, band.bottom))
    return width == 2 and enough and names


def _is_new_table(band: Area, above: Area) -> bool:
    """Whether a block below an empty row begins a table of its own."""
    first = band.top
    if band.n_rows < 2 or band.count(first) < 2:
        return False
    if any(band.is_number(first, j) for j in band.columns):
        return _has_words_for_numbers(band, above)
    same = _heading_texts(band, 0) == _heading_texts(above, 0)
    numbers_below = any(
        band.is_number(row, j)
        for row in range(first + 1, min(band.bottom, first + 4))
        for j in band.columns
    )
    return numbers_below and not same and any(band.is_word(first, j) for j in _numeric(above))


def _has_words_for_numbers(band: Area, above: Area) -> bool:
    """Whether every row begins with a word where the table above has numbers: an analysis."""
    if band.left not in _numeric(above):
        return False
    rows = range(band.top, min(band.bottom, band.top + 20))
    return is_analysis(band) and all(band.is_word(row, band.left) for row in rows)


def _numeric(area: Area) -> tuple[int, ...]:
    return area.numeric_columns()


def _range(whole: Area, cell: re.Match[str]) -> Chosen:
    area = replace(
        whole,
        left=column_number(cell[1]),
        top=int(cell[2]) - 1,
        right=min(column_number(cell[3]) + 1, whole.right),
        bottom=min(int(cell[4]), whole.bottom),
    )
    if area.left >= area.right or area.top >= area.bottom or not area.cells().any():
        raise FileError(
            f"Nothing stands in {cell[0]}.",
            why="The table is read from there.",
            next_step=f"The sheet is filled from {whole.name} to "
            f"{cell_name(whole.bottom - 1, whole.right - 1)}.",
            place=whole.source,
        )
    line = ReceiptLine(
        where=whole.source, met=f"--table {cell[0]}", understood="nothing else is read"
    )
    return Chosen(area=area, is_fixed=False, lines=(line,))


def _at_cell(areas: Sequence[Area], cell: re.Match[str]) -> Chosen:
    row, column = int(cell[2]) - 1, column_number(cell[1])
    for area in areas:
        if area.top <= row < area.bottom and column in area.columns:
            found = replace(area, top=row, left=column)
            name = cell_name(row, column)
            line = ReceiptLine(
                where=area.source,
                met=f"--table {name}",
                understood=f"the headings begin in {name}",
            )
            return Chosen(area=found, is_fixed=True, lines=(line,))
    raise _asked(areas, wrong=f"No table stands at {cell[0].upper()}.")


def _asked(areas: Sequence[Area], *, wrong: str) -> FileError:
    names = "; ".join(_described(area) for area in areas[:NAMED_AT_MOST])
    return FileError(
        f"{wrong} Found: {names}.",
        why="It cannot be told which of them is meant.",
        next_step=f"Name one by its number or first cell: --table 1 or --table {areas[0].name}; "
        "or name its range, such as --table A1:F20.",
        place=areas[0].source,
    )


def _described(area: Area) -> str:
    heads = ", ".join(text for text in area.texts(area.top) if text)
    return f"{area.name} ({heads[:60]}; {area.n_rows - 1} rows below)"


def _analysis_line(area: Area) -> ReceiptLine:
    formulas = is_all_formulas(area)
    return ReceiptLine(
        where=f"{area.source}, cell {area.name}",
        met=f"a block of {'formulas' if formulas else 'statistics'}: {_described(area)}",
        understood="an analysis, left out",
        sure=False,
    )


def _note_line(area: Area, *, where: str) -> ReceiptLine:
    used = area.part()
    shown = "; ".join(
        " ".join(text for text in used.texts(row) if text)
        for row in range(used.top, min(used.bottom, used.top + 20))
    )
    return ReceiptLine(
        where=f"{area.source}, cell {used.name}",
        met=f"notes {where}: {shown[:120]}",
        understood="left out",
        sure=where != "beside the table",
    )
