"""Cells of a filled-in table, row by row: run, part, settings, status and readings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical
from workbench.errors import DefinitionError, FileError
from workbench.files.entries import MOST_COUNTED
from workbench.files.headings import unguarded
from workbench.files.held import reset_of
from workbench.files.number_columns import number_column
from workbench.files.numbers import is_not_measured
from workbench.files.plain_numbers import PlainNumbers
from workbench.files.reading_columns import reading_column
from workbench.files.reset_words import NO, YES, was_reset
from workbench.steps.statuses import statuses_in
from workbench.steps.take_moments import Said, moments_in

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.files.entries import Value
    from workbench.files.raw_table import RawTable
    from workbench.files.reading_columns import CellReading
    from workbench.run.receipt import ReceiptLine
    from workbench.steps.take_columns import Columns, SettingColumn


@dataclass(frozen=True, slots=True, kw_only=True)
class Read:
    """One reading in a cell, with its place in the structure, its row and column in the table."""

    outcome: str
    run: int
    part: int
    reading: int
    cell: CellReading
    unit: str
    row: int
    heading: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Cells:
    """All that a table says: of runs, of planned settings, of readings, and what was assumed."""

    of_runs: tuple[Said, ...]
    settings: tuple[Said, ...]
    planned: tuple[Said, ...]
    readings: tuple[Read, ...]
    lines: tuple[ReceiptLine, ...]


def cells_of(table: RawTable, columns: Columns) -> Cells:
    """Return what the cells of a table say.

    Raises
    ------
    FileError
        If a cell is not what its column holds.
    """
    runs = whole_numbers(table, columns.run)
    settings: list[Said] = []
    planned: list[Said] = []
    lines: list[ReceiptLine] = []
    for column in columns.settings:
        values, assumed = _setting_values(table, column)
        lines += assumed
        said = [
            Said(run=runs[row], what=column.factor.name, value=value, row=row)
            for row, value in enumerate(values)
            if value is not None
        ]
        (settings if column.as_run else planned).extend(said)
    readings, assumed = _readings(table, columns, runs)
    times = moments_in(table, columns.made_at, runs)
    lines += times.lines
    return Cells(
        of_runs=(*_of_runs(table, columns, runs), *_resets(table, columns, runs), *times.said),
        settings=tuple(settings),
        planned=tuple(planned),
        readings=tuple(readings),
        lines=(*lines, *assumed),
    )


def whole_numbers(table: RawTable, heading: str) -> list[int]:
    """Return a column of whole numbers from 1 up.

    Raises
    ------
    FileError
        If a cell is none.
    """
    numbers = number_column(table, heading, unit="").numbers
    if isinstance(numbers, PlainNumbers) and _are_counts(numbers.values):
        return [int(one) for one in numbers.values.tolist()]
    found = []
    for row, number in enumerate(numbers):
        if number is None or number.mark or not _is_count(number.value):
            raise FileError(
                f"{table.column(heading)[row].text!r} is not a whole number from 1 up.",
                why=f"The row is placed by its {heading}.",
                next_step="Write the number, or delete the row.",
                place=table.place(row, heading),
            )
        found.append(int(number.value))
    return found


def _are_counts(values: NDArray[np.float64]) -> bool:
    return bool(((values >= 1) & (values <= MOST_COUNTED) & (values == np.floor(values))).all())


def _is_count(value: float) -> bool:
    return 1 <= value <= MOST_COUNTED and value.is_integer()


def _setting_values(
    table: RawTable, column: SettingColumn
) -> tuple[list[Value | None], list[ReceiptLine]]:
    factor = column.factor
    if isinstance(factor, Categorical):
        levels: list[Value | None] = []
        for row, cell in enumerate(table.column(column.heading)):
            text = unguarded(cell.text.strip())
            if text not in factor.levels and is_not_measured(text):
                levels.append(None)
                continue
            try:
                factor.index(text)
            except DefinitionError as met:
                place = table.place(row, column.heading)
                raise FileError(
                    met.wrong, why=met.why, next_step=met.next_step, place=place
                ) from None
            levels.append(text)
        return levels, []
    numbers = number_column(table, column.heading, unit=factor.unit, written_in=column.written_in)
    lines = [line for line in numbers.lines if not line.met.startswith("nothing")]
    if isinstance(numbers.numbers, PlainNumbers):  # no cell has a mark
        pairs = zip(numbers.numbers.texts, numbers.numbers.values.tolist(), strict=True)
        return [value if text else None for text, value in pairs], lines
    for row, one in enumerate(numbers.numbers):
        if one is not None and one.mark:
            raise FileError(
                f"{one.text!r} is no setting.",
                why="A setting is one number, not a limit.",
                next_step="Write what was set, or leave the cell empty.",
                place=table.place(row, column.heading),
            )
    return [None if one is None else one.value for one in numbers.numbers], lines


def _readings(
    table: RawTable, columns: Columns, runs: list[int]
) -> tuple[list[Read], list[ReceiptLine]]:
    part = whole_numbers(table, columns.part) if columns.part else [1] * len(runs)
    reading = whole_numbers(table, columns.reading) if columns.reading else [1] * len(runs)
    found: list[Read] = []
    lines: list[ReceiptLine] = []
    for column in columns.outcomes:
        read = reading_column(table, column.heading, column.outcome, written_in=column.written_in)
        lines += [line for line in read.lines if not line.met.startswith("nothing")]
        found += [
            Read(
                outcome=column.outcome.name,
                run=runs[row],
                part=column.part or part[row],
                reading=column.reading or reading[row],
                cell=cell,
                unit=str(getattr(column.outcome, "unit", "")),
                row=row,
                heading=column.heading,
            )
            for row, cell in enumerate(read.readings)
            if cell is not None
        ]
    _check_once(table, found)
    return found, lines


def _check_once(table: RawTable, found: list[Read]) -> None:
    seen: dict[tuple[str, int, int, int], Read] = {}
    for one in found:
        key = (one.outcome, one.run, one.part, one.reading)
        first = seen.setdefault(key, one)
        if first is not one:
            raise FileError(
                f"Run {one.run}, part {one.part}, reading {one.reading} of {one.outcome} stands "
                f"here and at {table.place(first.row, first.heading)}.",
                why="One reading has one value.",
                next_step="Add a column 'part' (or 'reading') that numbers them, "
                "or delete one of the rows.",
                place=table.place(one.row, one.heading),
            )


def _of_runs(table: RawTable, columns: Columns, runs: list[int]) -> tuple[Said, ...]:
    found: list[Said] = []
    for what, heading in (
        ("block", columns.block),
        ("reason", columns.reason),
    ):
        texts = [unguarded(c.text.strip()) for c in table.column(heading)] if heading else []
        found += [
            Said(run=runs[row], what=what, value=text, row=row)
            for row, text in enumerate(texts)
            if text
        ]
    found += _notes(table, columns, runs)
    if columns.setup:
        numbers = whole_numbers(table, columns.setup)
        found += [
            Said(run=runs[row], what="setup", value=number, row=row)
            for row, number in enumerate(numbers)
        ]
    if columns.status:
        found += _statuses(table, columns.status, runs)
    return tuple(found)


def _resets(table: RawTable, columns: Columns, runs: list[int]) -> list[Said]:
    found = []
    for column in columns.resets:
        for row, cell in enumerate(table.column(column.heading)):
            answer = was_reset(cell.text, place=table.place(row, column.heading))
            if answer is not None:
                what, value = reset_of(column.factor.name), YES if answer else NO
                found.append(Said(run=runs[row], what=what, value=value, row=row))
    return found


def _notes(table: RawTable, columns: Columns, runs: list[int]) -> list[Said]:
    """Return what is noted of each run, with who made it behind it where the table says so."""
    found = []
    notes, people = (
        [unguarded(cell.text.strip()) for cell in table.column(heading)]
        if heading
        else [""] * len(runs)
        for heading in (columns.notes, columns.who)
    )
    for row, (run, note, who) in enumerate(zip(runs, notes, people, strict=True)):
        by = f"made by {who}" if who else ""
        text = f"{note} ({by})" if note and by else note or by
        if text:
            found.append(Said(run=run, what="note", value=text, row=row))
    return found


def _statuses(table: RawTable, heading: str, runs: list[int]) -> list[Said]:
    return [
        Said(run=runs[row], what="status", value=str(status), row=row)
        for row, status in enumerate(statuses_in(table, heading))
        if status is not None
    ]
