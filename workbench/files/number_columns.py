"""A column of text cells to numbers in one unit, each mistake named by its cell."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.define.units import convert, normal_unit, unit_kind
from workbench.errors import DefinitionError, FileError
from workbench.files.numbers import (
    Decimal,
    decimal_mark,
    exact_number,
    is_not_measured,
    not_a_number,
    read_number,
    without_unit,
)
from workbench.run.receipt import ReceiptLine

if TYPE_CHECKING:
    from workbench.files.numbers import CellNumber
    from workbench.files.raw_table import Cell, RawTable


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberColumn:
    """Numbers of a column (None where nothing was measured) in one unit, and what was assumed."""

    numbers: tuple[CellNumber | None, ...]
    unit: str
    lines: tuple[ReceiptLine, ...]


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
    cells = table.column(heading)
    decimal = decimal_mark(cell.text for cell in cells if cell.number is None)
    numbers = []
    for row, cell in enumerate(cells):
        numbers.append(_number(cell, decimal, table.place(row, heading)))
    _check_units_known(table, heading, numbers, unit=unit)
    found_unit, line = _unit(numbers, unit=unit, place=table.column_place(heading))
    in_cells = written_in or found_unit
    converted = tuple(
        None
        if one is None
        else _converted(
            one, one.unit or in_cells, to_unit=found_unit, place=table.place(row, heading)
        )
        for row, one in enumerate(numbers)
    )
    lines = [*_decimal_lines(cells, decimal, table.column_place(heading)), *line]
    lines += _conversion_line(in_cells, found_unit, table.column_place(heading))
    lines += _not_measured_line(table, heading, numbers)
    return NumberColumn(numbers=converted, unit=found_unit, lines=tuple(lines))


def share_of_numbers(cells: tuple[Cell, ...]) -> float:
    """Return which share of the cells that say something are numbers (0 if none says any)."""
    saying = [cell for cell in cells if not is_not_measured(cell.text)]
    decimal = decimal_mark(cell.text for cell in saying)
    good = sum(_is_number(cell, decimal) for cell in saying)
    return good / len(saying) if saying else 0.0


def _is_number(cell: Cell, decimal: Decimal) -> bool:
    if cell.number is not None:
        return True
    try:
        found = read_number(cell.text, decimal=decimal, place="")
    except FileError as met:
        return "two readings" in met.wrong
    return found is not None and (not found.unit or unit_kind(found.unit) is not None)


def _number(cell: Cell, decimal: Decimal, place: str) -> CellNumber | None:
    if cell.number is not None:
        return exact_number(float(cell.number), cell.text)
    return read_number(cell.text, decimal=decimal, place=place)


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


def _converted(number: CellNumber, own: str, *, to_unit: str, place: str) -> CellNumber:
    if not own or not to_unit or own == to_unit:
        return without_unit(number, number.value)
    try:
        value = convert(number.value, from_unit=own, to_unit=to_unit)
    except DefinitionError as met:
        raise FileError(met.wrong, why=met.why, next_step=met.next_step, place=place) from None
    return without_unit(number, value)


def _decimal_lines(
    cells: tuple[Cell, ...], decimal: Decimal, place: str
) -> tuple[ReceiptLine, ...]:
    if decimal is not Decimal.COMMA:
        return _thousands_line(cells, place)
    shown = next(cell.text for cell in cells if "," in cell.text)
    line = ReceiptLine(
        where=place, met=f"numbers such as {shown.strip()}", understood="decimal comma"
    )
    return (line,)


def _thousands_line(cells: tuple[Cell, ...], place: str) -> tuple[ReceiptLine, ...]:
    grouped = [cell.text.strip() for cell in cells if cell.number is None and "," in cell.text]
    if not grouped:
        return ()
    line = ReceiptLine(
        where=place,
        met=f"numbers such as {grouped[0]} beside others with a decimal point",
        understood="comma parts thousands",
        sure=False,
    )
    return (line,)


def _conversion_line(in_cells: str, unit: str, place: str) -> tuple[ReceiptLine, ...]:
    if not in_cells or not unit:
        return ()
    if normal_unit(in_cells) == normal_unit(unit):
        return ()
    line = ReceiptLine(where=place, met=f"values in {in_cells}", understood=f"converted to {unit}")
    return (line,)


def _not_measured_line(
    table: RawTable, heading: str, numbers: list[CellNumber | None]
) -> tuple[ReceiptLine, ...]:
    rows = [table.rows[i].number for i, one in enumerate(numbers) if one is None]
    if not rows:
        return ()
    shown = ", ".join(str(row) for row in rows[:10]) + (" …" if len(rows) > 10 else "")
    line = ReceiptLine(
        where=f"{table.source}, row {shown}, column {heading!r}",
        met="nothing, or a sign for nothing",
        understood="not measured (never zero)",
    )
    return (line,)
