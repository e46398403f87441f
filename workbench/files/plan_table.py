"""plan.csv: one row a run, exact to the last digit there and back."""

from __future__ import annotations

import csv
import io
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical
from workbench.define.settings import Settings
from workbench.errors import FileError, WorkbenchError
from workbench.files.headings import INJECTION, with_unit
from workbench.plan.remake import remake

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.define.trial import Trial
    from workbench.plan.plans import Plan, Recipe

LABELS = ("run", "block", "setup", "point")
MOST_CELLS = 6  # changed cells that a message names


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlannedRuns:
    """What plan.csv holds: settings (n, k), block, setup and point (n,), row i being run i + 1."""

    settings: Settings
    block: NDArray[np.int64]
    setup: NDArray[np.int64]
    point: tuple[str, ...]


def table_text(plan: Plan) -> str:
    """Return plan.csv of a plan."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    factors = plan.settings.factors
    writer.writerow(_headings(factors))
    for i, row in enumerate(plan.settings.values):
        labels = [str(i + 1), str(plan.block[i]), str(plan.setup[i]), plan.point[i]]
        shown = [_shown(f, float(v)) for f, v in zip(factors, row, strict=True)]
        writer.writerow([*labels, *shown])
    return stream.getvalue()


def read_runs(text: str, factors: tuple[Factor, ...], *, name: str) -> PlannedRuns:
    """Return the runs that plan.csv lists; `name` is what messages call the file.

    Raises
    ------
    FileError
        If a heading, row or cell is not what the factors of the trial ask for.
    """
    rows = _rows(text, name)
    _check_headings(rows[0], factors, name)
    body = rows[1:]
    if not body:
        raise _error(name, "There are no runs in it.", "Make the plan again.")
    cells = [_cells(row, factors, f"{name}, row {i}") for i, row in enumerate(body, 2)]
    for i, one in enumerate(cells, 1):
        if one.run != i:
            raise _error(
                f"{name}, row {i + 1}, column 'run'",
                f"Run {one.run} stands where run {i} should.",
                "Put the rows back in run order.",
            )
    return PlannedRuns(
        settings=Settings(factors=factors, values=np.array([one.values for one in cells])),
        block=np.array([one.block for one in cells], dtype=np.int64),
        setup=np.array([one.setup for one in cells], dtype=np.int64),
        point=tuple(one.point for one in cells),
    )


def changed_cells(trial: Trial, runs: PlannedRuns, recipe: Recipe) -> str:
    """Return in words which settings differ from the recipe's, empty if it cannot be told."""
    try:
        planned = remake(trial, recipe)
    except WorkbenchError:
        return ""
    if len(planned) != len(runs.settings):
        return f": it has {len(runs.settings)} runs, the recipe makes {len(planned)}"
    differ = np.argwhere(planned.settings.values != runs.settings.values)
    said = [
        f"row {i + 2}, {trial.planned_factors[j].name!r} is "
        f"{_shown(trial.planned_factors[j], float(runs.settings.values[i, j]))} where the recipe "
        f"has {_shown(trial.planned_factors[j], float(planned.settings.values[i, j]))}"
        for i, j in differ[:MOST_CELLS]
    ]
    more = f"; and {len(differ) - MOST_CELLS} more" if len(differ) > MOST_CELLS else ""
    return f": {'; '.join(said)}{more}" if said else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cells:
    run: int
    block: int
    setup: int
    point: str
    values: tuple[float, ...]


def _headings(factors: tuple[Factor, ...]) -> list[str]:
    return [*LABELS, *(_guarded(with_unit(f.name, f.unit)) for f in factors)]


def _rows(text: str, name: str) -> list[list[str]]:
    try:
        rows = [row for row in csv.reader(io.StringIO(text, newline=""), strict=True) if row]
    except csv.Error as problem:
        raise _error(
            name, f"It is no CSV table: {problem}.", "Put the file back as it was written."
        ) from None
    if not rows:
        raise _error(name, "The file is empty.", "Put it back, or make the plan again.")
    return rows


def _check_headings(row: list[str], factors: tuple[Factor, ...], name: str) -> None:
    expected = _headings(factors)
    if row == expected:
        return
    lacking = [one for one in expected if one not in row]
    strange = [one for one in row if one not in expected]
    said = [f"lacks {', '.join(map(repr, lacking))}"] if lacking else []
    said += [f"has {', '.join(map(repr, strange))}"] if strange else []
    raise _error(
        f"{name}, row 1",
        f"The heading {' and '.join(said) or 'has another order'}.",
        "If a factor or unit of the trial was changed, make a new plan; "
        f"else put the heading back: {', '.join(expected)}.",
    )


def _cells(row: Sequence[str], factors: tuple[Factor, ...], place: str) -> _Cells:
    wanted = len(LABELS) + len(factors)
    if len(row) != wanted:
        raise _error(
            place,
            f"The row has {len(row)} cells, the heading {wanted}.",
            "Look for a comma too many or too few.",
        )
    values = [
        _value(factor, cell, f"{place}, column {factor.name!r}")
        for factor, cell in zip(factors, row[len(LABELS) :], strict=True)
    ]
    return _Cells(
        run=_count(row[0], f"{place}, column 'run'"),
        block=_count(row[1], f"{place}, column 'block'"),
        setup=_count(row[2], f"{place}, column 'setup'"),
        point=row[3],
        values=tuple(values),
    )


def _count(cell: str, place: str) -> int:
    if cell.isascii() and cell.isdigit() and len(cell) < 10 and int(cell) > 0:
        return int(cell)
    raise _error(place, f"{cell!r} is no whole number above 0.", "Put back what stood there.")


def _value(factor: Factor, cell: str, place: str) -> float:
    if isinstance(factor, Categorical):
        level = _unguarded(cell)
        if level not in factor.levels:
            raise _error(
                place, f"{level!r} is no level.", f"Use one of: {', '.join(factor.levels)}."
            )
        return float(factor.index(level))
    try:
        value = float(cell)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise _error(
            place,
            f"{cell!r} is not a number.",
            "Write it with a decimal point and without its unit, which stands in the heading.",
        )
    return value


def _shown(factor: Factor, value: float) -> str:
    if isinstance(factor, Categorical):
        return _guarded(factor.levels[int(value)])
    return repr(value).removesuffix(".0")


def _guarded(text: str) -> str:
    """Put an apostrophe before text that a spreadsheet program would run, or that has one."""
    return f"'{text}" if text.startswith((*INJECTION, "'")) else text


def _unguarded(cell: str) -> str:
    return cell.removeprefix("'")


def _error(place: str, wrong: str, next_step: str) -> FileError:
    return FileError(
        wrong, why="The plan cannot be read as it stands.", next_step=next_step, place=place
    )
