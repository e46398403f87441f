"""The planned settings beside those that were run: read from a file, matched run by run."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical
from workbench.errors import FileError, OptionError
from workbench.files.number_columns import number_column
from workbench.files.read_options import AS_FOUND, ReadOptions
from workbench.files.tables import read_table
from workbench.run.receipt import ReceiptLine
from workbench.steps.adopt_facts import facts_of
from workbench.steps.adopt_nouns import Planned, is_categorical
from workbench.steps.adopt_sorting import find_heading

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.files.raw_table import RawTable
    from workbench.steps.adopt_facts import Facts
    from workbench.steps.adopt_options import FactorWish

TIE = 1e-9  # far below any difference of settings: identical planned runs are met in their order


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlannedTable:
    """A file of planned runs, row i being run i + 1; `order` sorts its rows by run number."""

    table: RawTable
    order: NDArray[np.intp]
    has_runs: bool
    used: tuple[str, ...]
    lines: tuple[ReceiptLine, ...]


def read_planned(path: Path, options: ReadOptions = AS_FOUND) -> PlannedTable:
    """Return the table of planned runs; of the options, those on numbers and dates hold for it.

    Raises
    ------
    FileError
        If it cannot be read, or its run numbers are not 1 to the number of runs.
    """
    marks = ReadOptions(decimal=options.decimal, thousands=options.thousands, dates=options.dates)
    table = read_table(path, options=marks)
    runs = next((h for h in table.headings if h.casefold() == "run"), None)
    if runs is None:
        line = ReceiptLine(
            where=table.source,
            met="no column of run numbers",
            understood=f"{len(table)} planned runs, numbered by their row",
        )
        return PlannedTable(
            table=table,
            order=np.arange(len(table)),
            has_runs=False,
            used=(),
            lines=(*table.lines, line),
        )
    numbers = facts_of(table, runs).numbers
    if numbers is None or not np.array_equal(np.sort(numbers), np.arange(1, len(table) + 1)):
        raise FileError(
            f"The run numbers are not 1 to {len(table)}, each once.",
            why="Planned runs are found by their number.",
            next_step="Number the planned runs in their order.",
            place=table.column_place(runs),
        )
    return PlannedTable(
        table=table, order=np.argsort(numbers), has_runs=True, used=(runs,), lines=table.lines
    )


def planned_of(planned: PlannedTable, facts: Facts, wish: FactorWish) -> Planned:
    """Return what the planned file says of one factor.

    Raises
    ------
    FileError, OptionError
        If it has no such column, or a planned setting is missing or no setting.
    """
    table = planned.table
    try:
        heading = find_heading(table, facts.name, option="--planned")
    except OptionError as met:
        raise OptionError(
            f"The planned file has no column {facts.name!r}.",
            why="Each factor that was set needs its planned setting.",
            next_step="Add it; or say that it was only read: "
            f'--factor "{facts.name}:role=observed".',
            place=table.source,
        ) from met
    column = facts_of(table, heading)
    for row, text in enumerate(column.texts):
        if not text:
            raise FileError(
                "A planned setting is missing.",
                why="A plan has a setting for every factor in every run.",
                next_step="Fill it in.",
                place=table.place(row, heading),
            )
    if is_categorical(facts, wish):
        return Planned(levels=tuple(column.texts[i] for i in planned.order))
    unit = wish.unit or facts.unit
    numbers = number_column(table, heading, unit=unit, written_in=column.unit).numbers
    values = [one.value for one in numbers if one is not None]
    return Planned(numbers=tuple(values[i] for i in planned.order))


def planned_values(factors: Sequence[Factor], said: Sequence[Planned]) -> NDArray[np.float64]:
    """Return planned settings (n, k), levels as their index, in run order."""
    columns = [
        [float(factor.index(level)) for level in one.levels]
        if isinstance(factor, Categorical)
        else list(one.numbers)
        for factor, one in zip(factors, said, strict=True)
    ]
    return np.array(columns, dtype=np.float64).T


def matched(
    factors: Sequence[Factor], as_run: NDArray[np.float64], planned: NDArray[np.float64]
) -> NDArray[np.int64]:
    """Return the planned run number (m,) of each run made, by the smallest total distance.

    Settings (m, k) and (n, k) are scaled by the range of each factor; another level counts as
    one range. The assignment is that of Kuhn (1955), Naval Research Logistics 2, 83-97.

    Raises
    ------
    OptionError
        If more runs were made than were planned.
    """
    from scipy.optimize import linear_sum_assignment  # noqa: PLC0415 - slow to load, rarely needed

    if len(as_run) > len(planned):
        raise OptionError(
            f"The table has {len(as_run)} runs, the planned file {len(planned)}.",
            why="Without run numbers each run made is matched to one that was planned.",
            next_step="Add a column of run numbers to both, or plan the runs that were added.",
            place="--planned",
        )
    cost = np.zeros((len(as_run), len(planned)))
    for j, factor in enumerate(factors):
        apart = np.abs(as_run[:, j][:, None] - planned[:, j][None, :])
        if isinstance(factor, Categorical):
            cost += np.nan_to_num((apart > 0).astype(float))
        else:
            cost += np.nan_to_num((apart / (factor.high - factor.low)) ** 2)
    places = np.arange(len(as_run))[:, None] - np.arange(len(planned))[None, :]
    _, chosen = linear_sum_assignment(cost + TIE * places**2 / len(planned) ** 2)
    return np.asarray(chosen, dtype=np.int64) + 1


def unused_columns(planned: PlannedTable, used: Sequence[str]) -> tuple[ReceiptLine, ...]:
    """Return a line for each column of the planned file that is no setting."""
    names = {find_heading(planned.table, name, option="--planned") for name in used}
    return tuple(
        ReceiptLine(
            where=planned.table.column_place(heading),
            met="a column that is no factor",
            understood="not read: the planned file gives planned settings only",
        )
        for heading in planned.table.headings
        if heading not in names and heading not in planned.used
    )
