"""A column of text cells to numbers in one unit, each mistake named by its cell."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, overload

import numpy as np

from workbench.define.units import convert, normal_unit, unit_kind
from workbench.errors import DefinitionError, FileError
from workbench.files.decimal_marks import decimal_of
from workbench.files.mark_lines import mark_lines
from workbench.files.numbers import (
    decimal_mark,
    exact_number,
    has_comma,
    is_not_measured,
    looks_like_number,
    not_a_number,
    read_number,
    without_unit,
)
from workbench.files.plain_numbers import (
    PlainNumbers,
    is_plain_text,
    is_plain_with_commas,
    plain_numbers,
)
from workbench.files.raw_table import Cells
from workbench.run.receipt import ReceiptLine

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from workbench.files.numbers import CellNumber, Decimal
    from workbench.files.raw_table import Cell, RawTable


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberColumn:
    """Numbers of a column (None where nothing was measured) in one unit, and what was assumed."""

    numbers: Sequence[CellNumber | None]
    unit: str
    lines: tuple[ReceiptLine, ...]

    @property
    def values(self) -> NDArray[np.float64]:
        """Return the numbers (n,), NaN where nothing was measured."""
        if isinstance(self.numbers, PlainNumbers):
            return self.numbers.values
        return np.array([np.nan if one is None else one.value for one in self.numbers])


def number_column(
    table: RawTable, heading: str, *, unit: str, written_in: str = ""
) -> NumberColumn:
    """Return a column as numbers in `unit`; an empty unit is taken from the cells if they agree.

    `written_in` is the unit that the heading states, if it is not `unit`.

    Raises
    ------
    FileError
        If a cell is no number, has two readings, or has a unit that cannot be converted.
    """
    decimal = decimal_of(table, heading)
    plain = plain_numbers(table.column(heading), comma=has_comma(decimal))
    if plain is not None:
        found = _plain_column(table, heading, plain, unit=unit, written_in=written_in)
        return replace(found, lines=(*mark_lines(table, heading, decimal), *found.lines))
    numbers = _numbers(table, heading, decimal)
    _check_units_known(table, heading, numbers, unit=unit)
    _check_one_unit(table, heading, numbers, stated=written_in or unit)
    found_unit, line = _unit(numbers, unit=unit, place=table.column_place(heading))
    in_cells = written_in or found_unit
    converted = tuple(
        None
        if one is None
        else _converted(one, one.unit or in_cells, to_unit=found_unit, place=(table, heading, row))
        for row, one in enumerate(numbers)
    )
    lines = [*mark_lines(table, heading, decimal), *line]
    lines += _conversion_line(in_cells, found_unit, table.column_place(heading))
    lines += _not_measured_line(
        table, heading, [i for i, one in enumerate(numbers) if one is None]
    )
    return NumberColumn(numbers=converted, unit=found_unit, lines=tuple(lines))


def _plain_column(
    table: RawTable, heading: str, plain: PlainNumbers, *, unit: str, written_in: str
) -> NumberColumn:
    numbers = plain
    if written_in and unit and written_in != unit:
        place = table.column_place(heading)
        values = _in_unit(plain.values, written_in, to_unit=unit, place=place)
        numbers = PlainNumbers(values=np.array(values), texts=plain.texts)
    lines = [
        *_conversion_line(written_in or unit, unit, table.column_place(heading)),
        *_not_measured_line(table, heading, [i for i, text in enumerate(plain.texts) if not text]),
    ]
    return NumberColumn(numbers=numbers, unit=unit, lines=tuple(lines))


def _numbers(table: RawTable, heading: str, decimal: Decimal) -> list[CellNumber | None]:
    """Return the numbers of a column, each text read once."""
    known: dict[str, CellNumber | None] = {}
    found: list[CellNumber | None] = []
    for row, cell in enumerate(table.column(heading)):
        if cell.number is not None:
            found.append(exact_number(float(cell.number), cell.text))
            continue
        if cell.text not in known:
            place = table.place(row, heading)
            known[cell.text] = read_number(cell.text, decimal=decimal, place=place)
        found.append(known[cell.text])
    return found


def share_of_numbers(cells: Iterable[Cell]) -> float:
    """Return which share of the cells that say something are numbers (0 if none says any)."""
    if isinstance(cells, Cells) and _is_plain(cells):
        return 1.0 if any(cells.texts) else 0.0
    counted = Counter(cells)
    said = Counter({cell: n for cell, n in counted.items() if not is_not_measured(cell.text)})
    decimal = decimal_mark(cell.text for cell in said if cell.number is None)
    good = sum(
        count
        for cell, count in said.items()
        if cell.number is not None or looks_like_number(cell.text, decimal)
    )
    return good / said.total() if said else 0.0


def _is_plain(cells: Cells) -> bool:
    if cells.numbers is not None:
        return None not in cells.numbers
    return is_plain_text(cells.texts) or is_plain_with_commas(cells.texts)


def _check_units_known(
    table: RawTable, heading: str, numbers: list[CellNumber | None], *, unit: str
) -> None:
    """Refuse letters behind a number that are no unit, unless all cells have the same ones."""
    said = [one.unit for one in numbers if one is not None]
    if len(set(said)) <= 1:
        return
    for row, one in enumerate(numbers):
        if one is not None and one.unit and one.unit != unit and unit_kind(one.unit) is None:
            raise not_a_number(one.text, table.place(row, heading))


def _unit(
    numbers: list[CellNumber | None], *, unit: str, place: str
) -> tuple[str, list[ReceiptLine]]:
    written = [normal_unit(one.unit) for one in numbers if one is not None and one.unit]
    said = [one for one in numbers if one is not None]
    if not written:
        return unit, []
    chosen = unit or written[0]
    line = ReceiptLine(
        where=place,
        met=f"the unit {written[0]} in {len(written)} of {len(said)} cells",
        understood=f"all cells are in {chosen}"
        if set(written) == {chosen}
        else f"converted to {chosen}",
        sure=len(written) == len(said),
    )
    return chosen, [line]


def _check_one_unit(
    table: RawTable, heading: str, numbers: list[CellNumber | None], *, stated: str
) -> None:
    """Refuse numbers without a unit beside numbers in % or in several units."""
    if stated:
        return
    written = {normal_unit(one.unit) for one in numbers if one is not None and one.unit}
    if len(written) < 2 and "%" not in written:
        return
    for row, one in enumerate(numbers):
        if one is not None and not one.unit:
            raise FileError(
                f"{one.text!r} has no unit, others here are in {', '.join(sorted(written))}.",
                why="It cannot be told which unit it is in.",
                next_step="Write the unit behind it, or the unit of all bare numbers in brackets "
                "behind the heading.",
                place=table.place(row, heading),
            )


def _converted(
    number: CellNumber, own: str, *, to_unit: str, place: tuple[RawTable, str, int]
) -> CellNumber:
    if not own or not to_unit or own == to_unit:
        return without_unit(number, number.value) if number.unit else number
    table, heading, row = place
    value = _in_unit(number.value, own, to_unit=to_unit, place=table.place(row, heading))
    return without_unit(number, value)


@overload
def _in_unit(value: float, own: str, *, to_unit: str, place: str) -> float: ...
@overload
def _in_unit(
    value: NDArray[np.float64], own: str, *, to_unit: str, place: str
) -> NDArray[np.float64]: ...
def _in_unit(
    value: float | NDArray[np.float64], own: str, *, to_unit: str, place: str
) -> float | NDArray[np.float64]:
    try:
        return convert(value, from_unit=own, to_unit=to_unit)
    except DefinitionError as met:
        raise FileError(met.wrong, why=met.why, next_step=met.next_step, place=place) from None


def _conversion_line(in_cells: str, unit: str, place: str) -> tuple[ReceiptLine, ...]:
    if not in_cells or not unit:
        return ()
    if normal_unit(in_cells) == normal_unit(unit):
        return ()
    line = ReceiptLine(where=place, met=f"values in {in_cells}", understood=f"converted to {unit}")
    return (line,)


def _not_measured_line(table: RawTable, heading: str, empty: list[int]) -> tuple[ReceiptLine, ...]:
    if not empty:
        return ()
    rows = [table.row_numbers[i] for i in empty]
    shown = ", ".join(str(row) for row in rows[:10]) + (" …" if len(rows) > 10 else "")
    line = ReceiptLine(
        where=f"{table.source}, row {shown}, column {heading!r}",
        met="nothing, or a sign for nothing",
        understood="not measured (never zero)",
    )
    return (line,)
