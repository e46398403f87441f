"""Look through a trial folder: everything that is wrong with it, and nothing written."""

from __future__ import annotations

from datetime import UTC, datetime
from importlib import import_module
from typing import TYPE_CHECKING

from workbench import files, run
from workbench.errors import WorkbenchError
from workbench.files.journal_mistakes import journal_reading
from workbench.files.plan_mistakes import plan_reading
from workbench.files.trial_mistakes import trial_mistakes
from workbench.steps.check_attached import attached_remarks, named_files
from workbench.steps.check_entries import entry_remarks
from workbench.steps.check_folder import folder_remarks, known_files
from workbench.steps.check_nouns import CheckUp, Remarks, remark
from workbench.steps.check_tables import decision_remarks, results_remarks, sheet_remarks
from workbench.steps.trials import check_is_trial

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from workbench.define.trial import Trial
    from workbench.files.journal import Journal
    from workbench.files.plan_mistakes import PlanReading
    from workbench.plan.plans import Plan
    from workbench.run.record import Record
    from workbench.steps.check_nouns import Remark

TRIAL = "trial.toml"
CONFIRMATION = "confirmation.toml"


def check_trial(folder: Path, *, now: datetime | None = None) -> CheckUp:
    """Return everything that is wrong with a trial folder; it goes on after a mistake.

    `now` is what the clock says (this machine's if None). Nothing in the folder is changed.

    Raises
    ------
    FileError
        If the folder holds no trial.toml, so that it is no trial.
    """
    check_is_trial(folder)
    journal = journal_reading(folder)
    found = folder_remarks(folder, named=named_files(journal.journal))
    wrong = trial_mistakes(folder)
    found += Remarks(mend=_remarks(wrong, TRIAL))
    found += Remarks(mend=_remarks(journal.mistakes, "results"))
    record = None
    if not wrong:
        trial = files.read_trial(folder)
        plan = plan_reading(folder, trial)
        found += _against_trial(folder, trial, plan, journal=journal.journal, now=now)
        record, unfit = (None, ()) if found.mend else _record(folder, trial, plan.plan)
        found += Remarks(mend=unfit)
    found += Remarks(mend=attached_remarks(journal.journal, folder))
    found += results_remarks(folder, record)
    found += decision_remarks(folder)
    found += _confirmation(folder)
    return CheckUp(
        folder=folder,
        looked_at=known_files(folder),
        remarks=found,
        happened=() if record is None else run.findings(record),
    )


def _against_trial(
    folder: Path, trial: Trial, plan: PlanReading, *, journal: Journal, now: datetime | None
) -> Remarks:
    found = Remarks(mend=_remarks(plan.mistakes, "plan.csv"))
    found += entry_remarks(journal, trial, plan.plan, now=now or datetime.now(UTC))
    return found if plan.mistakes else found + sheet_remarks(folder, plan.plan)


def _confirmation(folder: Path) -> Remarks:
    path = folder / CONFIRMATION
    if not (path.exists() or path.is_symlink()):
        return Remarks()
    # It brings all of `decide`, for which the check of another trial need not wait.
    found: Remarks = import_module("workbench.steps.check_confirmation").confirmation_remarks(
        folder
    )
    return found


def _record(
    folder: Path, trial: Trial, plan: Plan | None
) -> tuple[Record | None, tuple[Remark, ...]]:
    try:
        return files.read_record(folder, trial, plan), ()
    except WorkbenchError as met:
        return None, (remark(met, place="results"),)


def _remarks(mistakes: Iterable[WorkbenchError], place: str) -> tuple[Remark, ...]:
    return tuple(remark(met, place=place) for met in mistakes)
