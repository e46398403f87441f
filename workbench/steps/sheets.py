"""Write the run sheet: one to print, one to fill in."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench import files, show
from workbench.errors import PlanError
from workbench.files.sheet_csv import write_sheet_csv
from workbench.steps.trials import check_is_trial

if TYPE_CHECKING:
    from pathlib import Path

PAGE = "run_sheet.html"


def write_sheet(folder: Path) -> tuple[Path, Path]:
    """Write run_sheet.html and run_sheet.csv from the plan; return both paths.

    Raises
    ------
    WorkbenchError
        If the folder is no trial or has no plan.
    """
    check_is_trial(folder)
    trial = files.read_trial(folder)
    plan = files.read_plan(folder, trial)
    if plan is None:
        raise PlanError(
            "This trial has no plan yet.",
            why="The run sheet lists the planned runs in their order.",
            next_step=f"Plan it first: workbench plan {folder}.",
            place=str(folder),
        )
    page = folder / PAGE
    files.write_text_atomically(page, show.run_sheet(trial, plan))
    return page, write_sheet_csv(folder, trial, plan)
