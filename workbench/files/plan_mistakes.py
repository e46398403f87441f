"""Every wrong cell of plan.csv, where reading a plan stops at the first."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.errors import WorkbenchError
from workbench.files.plan_files import PLAN_TABLE, read_plan
from workbench.files.plan_table import read_runs
from workbench.files.toml_text import read_text

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from workbench.define.factors import Factor
    from workbench.define.trial import Trial
    from workbench.plan.plans import Plan

MOST_NAMED = 50


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlanReading:
    """A plan as far as it can be read (None if there is none or it cannot), and its mistakes."""

    plan: Plan | None
    mistakes: tuple[WorkbenchError, ...]


def plan_reading(folder: Path, trial: Trial) -> PlanReading:
    """Return the plan of a trial, or every reason why it cannot be read."""
    try:
        return PlanReading(plan=read_plan(folder, trial), mistakes=())
    except WorkbenchError as first:
        cells = tuple(_wrong_cells(folder / PLAN_TABLE, trial.planned_factors))
        said = {str(one) for one in cells}
        whole = () if str(first) in said else (first,)
        return PlanReading(plan=None, mistakes=(*whole, *cells))


def _wrong_cells(path: Path, factors: tuple[Factor, ...]) -> Iterator[WorkbenchError]:
    """Read each row by itself, as if it were the first."""
    rows = _rows(path)
    found = 0
    for number, row in enumerate(rows[1:], start=2):
        try:
            read_runs(_as_first(rows[0], row), factors, name=PLAN_TABLE)
        except WorkbenchError as met:
            if "row 1" in met.place:  # the heading, which the first mistake already names
                return
            met.place = met.place.replace("row 2", f"row {number}", 1)
            yield met
            found += 1
        if found >= MOST_NAMED:
            return


def _rows(path: Path) -> list[list[str]]:
    try:
        return list(csv.reader(io.StringIO(read_text(path), newline=""), strict=True))
    except (WorkbenchError, csv.Error):  # said already by the first mistake
        return [[]]


def _as_first(heading: list[str], row: list[str]) -> str:
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(heading)
    # The order of run numbers is looked at where the whole plan is read.
    first = ["1", *row[1:]] if row[:1] and row[0].isdigit() else row
    writer.writerow(first)
    return stream.getvalue()
