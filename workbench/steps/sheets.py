"""Write the run sheet: one to print, two to fill in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench import files, show
from workbench.errors import PlanError
from workbench.files.plan_files import plan_digest
from workbench.files.sheet_csv import write_sheet_csv
from workbench.files.sheet_xlsx import write_sheet_xlsx
from workbench.steps.trials import check_is_trial

if TYPE_CHECKING:
    from pathlib import Path

PAGE = "run_sheet.html"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheets:
    """Where the run sheet was written: a page to print, a table and a workbook to fill in."""

    page: Path
    table: Path
    workbook: Path


def write_sheet(folder: Path, *, first_run: int = 1) -> Sheets:
    """Write run_sheet.html, run_sheet.csv and run_sheet.xlsx from the plan, from a run on.

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
    part = plan if first_run == 1 else plan.from_run(first_run)
    files.write_text_atomically(page, show.run_sheet(trial, part))
    return Sheets(
        page=page,
        table=write_sheet_csv(folder, trial, part),
        workbook=write_sheet_xlsx(folder, trial, part, digest=plan_digest(plan)),
    )
