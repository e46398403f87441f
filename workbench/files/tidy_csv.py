"""The readings of a trial as tables for other programs: one row a reading, and one row a part."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.define.factors import Role
from workbench.files.csv_text import BYTE_ORDER_MARK, cell_text
from workbench.files.headings import with_unit
from workbench.files.shown_values import shown_reading, shown_setting
from workbench.run.record import Status

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    import numpy as np
    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.define.outcomes import Outcome
    from workbench.run.record import Record

PLACE = ("run", "block", "setup", "part", "reading")
READING = ("outcome", "value", "mark", "unit", "shown", "status", "reason", "who", "when")
MARKS = {-1: "below", 0: "", 1: "above"}

Cell = float | str
Key = tuple[str, int, int, int]  # outcome, run, part, reading


@dataclass(frozen=True, slots=True, kw_only=True)
class TidyTable:
    """A table under its headings; a cell is a number or a text, empty where nothing is known."""

    name: str
    headings: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Signature:
    """Who entered something, and when (UTC, ISO 8601)."""

    who: str = ""
    when: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Signatures:
    """Who entered which reading, and who last said anything of a run."""

    readings: Mapping[Key, Signature]
    runs: Mapping[int, Signature]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SettingColumn:
    """A column of settings (n,), one value a run; `is_planned` tells what was asked from what was.

    `name` is its name without the unit.
    """

    name: str
    factor: Factor
    is_planned: bool
    values: NDArray[np.float64]

    @property
    def heading(self) -> str:
        """The name with the unit in brackets."""
        return with_unit(self.name, self.factor.unit)


def readings_table(record: Record, signed: Signatures) -> TidyTable:
    """Return one row a reading; a run without a reading of an outcome has one row without value.

    A failed or missing run is thus in the table, and its readings are never zeros.
    """
    settings = setting_columns(record, planned="{} planned")
    headings = (*PLACE, *(one.heading for one in settings), *READING)
    at = _readings_by_run(record)
    rows = tuple(
        (*_run_cells(record, i), *place, *_settings(settings, i), *said)
        for i in range(len(record))
        for outcome in record.trial.outcomes
        for place, said in _said(record, i, at[outcome.name][i], outcome=outcome, signed=signed)
    )
    return TidyTable(name="readings.csv", headings=headings, rows=rows)


def runs_table(record: Record, notes: Mapping[int, str]) -> TidyTable:
    """Return one row a part and reading, each outcome in its column, as `take` reads it back."""
    settings = setting_columns(record, planned="{}")
    outcomes = record.trial.outcomes
    headings = (
        *PLACE,
        *(one.heading for one in settings),
        *(with_unit(one.name, str(getattr(one, "unit", ""))) for one in outcomes),
        "status",
        "reason",
        "notes",
    )
    at = _readings_by_run(record)
    rows = tuple(
        row
        for i in range(len(record))
        for row in _wide(
            record,
            i,
            {name: each[i] for name, each in at.items()},
            settings=settings,
            notes=notes,
        )
    )
    return TidyTable(name="runs.csv", headings=headings, rows=rows)


def tidy_text(table: TidyTable) -> str:
    """Return a table as CSV by RFC 4180: comma, point, CRLF, quotes where needed.

    It begins with a byte-order mark, without which spreadsheet programs garble µ, ³ and °. Text
    that they would run as a formula is guarded by an apostrophe; numbers stand as they are.
    """
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow([cell_text(one) for one in table.headings])
    writer.writerows([cell_text(one) for one in row] for row in table.rows)
    return BYTE_ORDER_MARK + stream.getvalue()


def setting_columns(record: Record, *, planned: str) -> tuple[SettingColumn, ...]:
    """Return the columns of settings; `planned` is how a planned one is named, {} its factor.

    What is only read has no planned column; without a plan nothing has.
    """
    columns = []
    for j, factor in enumerate(record.trial.factors):
        if record.planned is not None and factor.role is not Role.OBSERVED:
            columns.append(
                SettingColumn(
                    name=planned.replace("{}", factor.name),
                    factor=factor,
                    is_planned=True,
                    values=record.planned.values[:, j],
                )
            )
        columns.append(
            SettingColumn(
                name=f"{factor.name} as run",
                factor=factor,
                is_planned=False,
                values=record.as_run.values[:, j],
            )
        )
    return tuple(columns)


def _readings_by_run(record: Record) -> dict[str, list[list[int]]]:
    """Return for each outcome and row of the record the places of its readings, in order."""
    found = {}
    for name, readings in record.readings.items():
        of_run: list[list[int]] = [[] for _ in range(len(record))]
        for place, row in enumerate(readings.row.tolist()):
            of_run[row].append(place)
        found[name] = of_run
    return found


def _run_cells(record: Record, i: int) -> tuple[Cell, ...]:
    return (int(record.run[i]), record.block_labels[record.block[i]], int(record.setup[i]))


def _settings(columns: tuple[SettingColumn, ...], i: int) -> tuple[Cell, ...]:
    return tuple(shown_setting(one.factor, float(one.values[i])) for one in columns)


def _said(
    record: Record, i: int, places: Sequence[int], *, outcome: Outcome, signed: Signatures
) -> Iterator[tuple[tuple[Cell, Cell], tuple[Cell, ...]]]:
    """Yield part and reading, and the cells of `READING`, for each reading of an outcome."""
    run, unit = int(record.run[i]), str(getattr(outcome, "unit", ""))
    tail = (record.status[i].value, record.reason[i])
    readings = record.readings[outcome.name]
    for j in places:
        value, mark = float(readings.value[j]), int(readings.mark[j])
        place = (int(readings.part[j]), int(readings.reading[j]))
        by = signed.readings.get((outcome.name, run, *place), Signature())
        shown = shown_reading(outcome, value, mark)
        shown = shown if isinstance(shown, str) else cell_text(shown)
        yield place, (outcome.name, value, MARKS[mark], unit, shown, *tail, by.who, by.when)
    if not places:
        by = signed.runs.get(run, Signature())
        yield ("", ""), (outcome.name, "", "", unit, "", *tail, by.who, by.when)


def _wide(
    record: Record,
    i: int,
    places: Mapping[str, Sequence[int]],
    *,
    settings: tuple[SettingColumn, ...],
    notes: Mapping[int, str],
) -> Iterator[tuple[Cell, ...]]:
    shown: dict[tuple[str, int, int], Cell] = {}
    for outcome in record.trial.outcomes:
        readings = record.readings[outcome.name]
        for j in places[outcome.name]:
            place = (outcome.name, int(readings.part[j]), int(readings.reading[j]))
            shown[place] = shown_reading(outcome, float(readings.value[j]), int(readings.mark[j]))
    status = record.status[i]
    tail = (
        "" if status in (Status.DONE, Status.MISSING) else status.value,
        record.reason[i],
        notes.get(int(record.run[i]), ""),
    )
    for part, reading in sorted({place[1:] for place in shown}) or [(1, 1)]:
        cells = (shown.get((one.name, part, reading), "") for one in record.trial.outcomes)
        yield (*_run_cells(record, i), part, reading, *_settings(settings, i), *cells, *tail)
