"""A column of text cells to readings of one outcome: numbers, pass or fail, grades, counts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.define.outcomes import Counted, Graded, Measured, PassFail
from workbench.errors import FileError
from workbench.files.headings import unguarded
from workbench.files.number_columns import number_column
from workbench.files.numbers import is_not_measured
from workbench.files.plain_numbers import PlainNumbers

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from workbench.define.outcomes import Outcome
    from workbench.files.number_columns import NumberColumn
    from workbench.files.numbers import CellNumber
    from workbench.files.raw_table import RawTable
    from workbench.run.receipt import ReceiptLine


@dataclass(frozen=True, slots=True, kw_only=True)
class CellReading:
    """A reading in a cell: as written, as a number (see Readings) and its mark."""

    text: str
    value: float
    mark: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingColumn:
    """Readings of a column, None where nothing was read, and what was assumed."""

    readings: tuple[CellReading | None, ...]
    lines: tuple[ReceiptLine, ...]


def reading_column(
    table: RawTable, heading: str, outcome: Outcome, *, written_in: str = ""
) -> ReadingColumn:
    """Return the readings under a heading; `written_in` is the unit that the heading states.

    Raises
    ------
    FileError
        If a cell is not a reading of this outcome.
    """
    if isinstance(outcome, PassFail):
        words = {outcome.passes.casefold(): 1.0, outcome.fails.casefold(): 0.0}
        return _words(table, heading, words)
    if isinstance(outcome, Graded):
        words = {grade.casefold(): float(i) for i, grade in enumerate(outcome.grades)}
        return _words(table, heading, words)
    numbers = number_column(table, heading, unit=outcome.unit, written_in=written_in)
    if isinstance(outcome, Counted):
        _check_counts(table, heading, numbers, out_of=outcome.out_of)
    if isinstance(outcome, Measured):
        _check_scale(table, heading, numbers, outcome=outcome)
    return ReadingColumn(readings=_readings(numbers.numbers), lines=numbers.lines)


def _readings(numbers: Sequence[CellNumber | None]) -> tuple[CellReading | None, ...]:
    if isinstance(numbers, PlainNumbers):
        return tuple(
            CellReading(text=text, value=value, mark=0) if text else None
            for text, value in zip(numbers.texts, numbers.values.tolist(), strict=True)
        )
    return tuple(
        None if one is None else CellReading(text=one.text, value=one.value, mark=one.mark)
        for one in numbers
    )


def _words(table: RawTable, heading: str, words: Mapping[str, float]) -> ReadingColumn:
    readings: list[CellReading | None] = []
    for row, cell in enumerate(table.column(heading)):
        text = unguarded(cell.text.strip())
        value = words.get(text.casefold())
        if value is None and not is_not_measured(text):
            raise FileError(
                f"{text!r} is not a reading of this outcome.",
                why="Only its own words can be counted.",
                next_step=f"Write one of: {', '.join(words)}; or leave the cell empty.",
                place=table.place(row, heading),
            )
        readings.append(None if value is None else CellReading(text=text, value=value, mark=0))
    return ReadingColumn(readings=tuple(readings), lines=())


def _check_counts(
    table: RawTable, heading: str, numbers: NumberColumn, *, out_of: int | None
) -> None:
    for row, one in enumerate(numbers.numbers):
        if one is None:
            continue
        too_many = out_of is not None and one.value > out_of
        if one.value < 0 or one.value != int(one.value) or one.mark or too_many:
            raise FileError(
                f"{one.text!r} is not a count{f' out of {out_of}' if too_many else ''}.",
                why="A count is a whole number from 0 up.",
                next_step="Correct the cell, or say that the outcome is measured.",
                place=table.place(row, heading),
            )


def _check_scale(
    table: RawTable, heading: str, numbers: NumberColumn, *, outcome: Measured
) -> None:
    if outcome.scale == "as read":
        return
    for row, one in enumerate(numbers.numbers):
        if one is not None and one.value <= 0:
            raise FileError(
                f"{one.text!r} is not above zero.",
                why=f"{outcome.name!r} is on the {outcome.scale} scale, which has no such value.",
                next_step='If it is below what the gauge can read, write "<" and that limit; '
                'otherwise set scale = "as read".',
                place=table.place(row, heading),
            )
