"""Open a trial folder: what is asked, what is planned, what was seen."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench import files
from workbench.errors import FileError

if TYPE_CHECKING:
    from pathlib import Path

    from workbench.define.trial import Trial
    from workbench.plan.plans import Plan
    from workbench.run.record import Record


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OpenTrial:
    """A trial folder as it was read: the trial, its plan if there is one, and the record."""

    folder: Path
    trial: Trial
    plan: Plan | None
    record: Record

    def __repr__(self) -> str:
        runs = f"{int(self.record.used().sum())} runs that count"
        return f"OpenTrial({self.trial.title!r} in {str(self.folder)!r}, {runs})"


def open_trial(folder: Path) -> OpenTrial:
    """Read a trial folder.

    Raises
    ------
    WorkbenchError
        If the folder is no trial, or one of its files cannot be understood.
    """
    check_is_trial(folder)
    trial = files.read_trial(folder)
    plan = files.read_plan(folder, trial)
    record = files.read_record(folder, trial, plan)
    return OpenTrial(folder=folder, trial=trial, plan=plan, record=record)


def check_is_trial(folder: Path) -> None:
    """Check that the folder holds a trial.

    Raises
    ------
    FileError
        If it is missing, or is a file, or has no trial.toml.
    """
    if (folder / "trial.toml").is_file():
        return
    if not folder.exists():
        wrong = "There is no such folder."
    elif not folder.is_dir():
        wrong = "This is a file, not a folder."
    else:
        wrong = "The folder has no trial.toml."
    raise FileError(
        wrong,
        why="A trial is a folder whose trial.toml says what is asked.",
        next_step="Name the trial's folder; make one with `workbench new DIR`, "
        "or from a table with `workbench adopt TABLE DIR`.",
        place=str(folder),
    )
