"""Whether a run sheet belongs to the plan that is here."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.errors import FileError
from workbench.files.plan_files import plan_digest, plan_digests
from workbench.files.sheet_mark import short_digest

if TYPE_CHECKING:
    from pathlib import Path

    from workbench.files.raw_table import RawTable
    from workbench.plan.plans import Plan


def check_plan_of_sheet(table: RawTable, plan: Plan | None, folder: Path) -> None:
    """Refuse a run sheet that was written for another plan, unless runs were added to it since.

    Raises
    ------
    FileError
        If it was, or if there is no plan here any more.
    """
    if not table.plan:
        return
    here = plan_digest(plan) if plan is not None else ""
    if plan is not None and table.plan in plan_digests(plan):
        return
    other = short_digest(table.plan)
    now = f"the plan here is {short_digest(here)}" if here else "there is no plan here"
    raise FileError(
        f"This run sheet was written for the plan {other}; {now}.",
        why="Its run numbers stand for other settings.",
        next_step="Take it in the folder of its own plan; or write a new sheet with "
        f"workbench sheet {folder} and copy into it what was made at the same settings.",
        place=table.source,
    )
