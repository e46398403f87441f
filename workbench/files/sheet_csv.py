"""The run sheet as a table to fill in, in the columns that `take` understands."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.files.atomic import write_text_atomically
from workbench.files.csv_text import csv_text
from workbench.files.headings import with_unit
from workbench.files.shown_values import shown_setting
from workbench.run.asked_resets import asked_resets, reset_heading

if TYPE_CHECKING:
    from pathlib import Path

    from workbench.define.trial import Trial
    from workbench.plan.plans import Plan

NAME = "run_sheet.csv"


def write_sheet_csv(folder: Path, trial: Trial, plan: Plan) -> Path:
    """Write run_sheet.csv into the folder and return its path."""
    path = folder / NAME
    write_text_atomically(path, sheet_text(trial, plan))
    return path


def sheet_text(trial: Trial, plan: Plan) -> str:
    """Return the run sheet as CSV text: one row a run, cells to fill in left empty.

    A setting is read as planned unless its "as run" cell says otherwise.
    """
    has_setups = any(factor.slow for factor in trial.factors)
    headings = ["run", *(["block"] if plan.is_blocked else []), *(["setup"] * has_setups)]
    headings += [with_unit(f.name, f.unit) for f in plan.settings.factors]
    to_fill = [with_unit(f"{f.name} as run", f.unit) for f in trial.factors]
    to_fill += [reset_heading(one.factor) for one in asked_resets(plan)]
    to_fill += _outcome_headings(trial, plan.parts_per_run)
    to_fill += ["status", "reason", "notes"]
    rows = []
    for i, values in enumerate(plan.settings.values):
        row: list[float | str] = [plan.first_run + i]
        row += [int(plan.block[i])] if plan.is_blocked else []
        row += [int(plan.setup[i])] if has_setups else []
        row += [
            shown_setting(factor, float(value))
            for factor, value in zip(plan.settings.factors, values, strict=True)
        ]
        rows.append([*row, *[""] * len(to_fill)])
    return csv_text([*headings, *to_fill], rows)


def _outcome_headings(trial: Trial, parts: int) -> list[str]:
    found = []
    for outcome in trial.outcomes:
        name = with_unit(outcome.name, str(getattr(outcome, "unit", "")))
        found += [name] if parts == 1 else [f"{name}, part {k}" for k in range(1, parts + 1)]
    return found
