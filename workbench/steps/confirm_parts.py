"""The parts of a confirmation: taken into their own journal, and what they say."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench import files, show
from workbench.decide.verdict_made import confirmation_verdict
from workbench.decide.verdict_settings import check_settings
from workbench.define.outcomes import is_judged
from workbench.errors import DecisionError, Unavailable
from workbench.files.confirmation_rests import (
    FITS,
    TRIAL,
    VERSION,
    check_parts_files,
    rests_on,
)
from workbench.files.decisions import read_decisions
from workbench.files.read_options import AS_FOUND
from workbench.steps.confirm import (
    LOCKED,
    fits_digest,
    locked_confirmation,
    parts_folder,
)
from workbench.steps.fitting import fit_all
from workbench.steps.take import take_table
from workbench.steps.trials import open_trial

if TYPE_CHECKING:
    from pathlib import Path

    from workbench.decide.confirmation import ConfirmationPlan
    from workbench.decide.verdict import Verdict
    from workbench.define.trial import Trial
    from workbench.files.confirmation_file import LockedConfirmation
    from workbench.files.read_options import ReadOptions
    from workbench.run.receipt import Receipt
    from workbench.run.record import Record

VERDICT_PAGE = "verdict.html"


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenParts:
    """The receipt of a table of parts; `off_plan` says what the verdict will refuse, if so."""

    receipt: Receipt
    off_plan: DecisionError | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Judged:
    """A verdict with the trial, the plan it was judged by, and the parts as recorded."""

    trial: Trial
    plan: ConfirmationPlan
    record: Record
    verdict: Verdict


def take_parts(
    folder: Path,
    table: Path,
    *,
    who: str,
    settles: bool = False,
    reason: str = "",
    read: ReadOptions = AS_FOUND,
) -> TakenParts:
    """Enter the filled-in run sheet of a confirmation into its own journal.

    Parts at other settings than planned are kept, since they were made; the verdict refuses
    them, and the receipt says so at once.

    Raises
    ------
    WorkbenchError
        If no confirmation is locked, the files of its parts were changed, or anything in the
        table is not understood; then nothing is written.
    """
    locked = _locked(folder)
    check_parts_files(parts_folder(folder), locked.plan)
    receipt = take_table(
        parts_folder(folder), table, who=who, settles=settles, reason=reason, read=read
    )
    record = open_trial(parts_folder(folder)).record
    try:
        check_settings(locked.plan, record)
    except DecisionError as off:
        return TakenParts(receipt=receipt, off_plan=off)
    return TakenParts(receipt=receipt, off_plan=None)


def judge_confirmation(folder: Path) -> Judged:
    """Return the verdict of a trial's confirmation, and what was changed since it was locked.

    Raises
    ------
    WorkbenchError
        If none is locked, no part is recorded, parts were made at other settings, or the files
        they are judged by were changed.
    """
    locked = _locked(folder)
    check_parts_files(parts_folder(folder), locked.plan)
    files.check_results_untouched(parts_folder(folder))
    parts = open_trial(parts_folder(folder))
    verdict = confirmation_verdict(locked.plan, parts.record, changed=changes(folder, locked))
    return Judged(trial=parts.trial, plan=locked.plan, record=parts.record, verdict=verdict)


def write_verdict(folder: Path, judged: Judged) -> Path:
    """Write the verdict as a page and return its path."""
    path = parts_folder(folder) / VERDICT_PAGE
    files.write_text_atomically(path, show.verdict_page(judged.trial, judged.plan, judged.verdict))
    return path


def changes(folder: Path, locked: LockedConfirmation) -> tuple[str, ...]:
    """Return in sentences what the predictions rested on and is not the same any more."""
    before = {one.what: one.digest for one in locked.plan.rests_on}
    now = {one.what: one.digest for one in rests_on(folder)}
    said = [
        f"{WORDS[what]} changed after the predictions were locked."
        for what, digest in now.items()
        if before.get(what) != digest
    ]
    if not said and _fits_now(folder) not in ("", before.get(FITS)):
        said.append("The same trial, plan and results are fitted otherwise than they were.")
    noted = [one for one in read_decisions(folder) if one.what == LOCKED]
    if not noted or locked.digest not in noted[-1].reason:
        said.append(
            "confirmation.toml is not the one that decisions.toml notes as locked: what was "
            "foreseen may have been written later."
        )
    return tuple(said)


WORDS = {
    TRIAL: "trial.toml was",
    "plan": "The plan of the trial was",
    "results": "Results of the trial were",
    VERSION: "The workbench itself was",
}


def _fits_now(folder: Path) -> str:
    opened = open_trial(folder)
    judged = [one.name for one in opened.trial.outcomes if is_judged(one)]
    fitted = fit_all(opened, outcomes=judged)
    return fits_digest([one.fit for one in fitted if not isinstance(one.fit, Unavailable)])


def _locked(folder: Path) -> LockedConfirmation:
    found = locked_confirmation(folder)
    if found is not None:
        return found
    raise DecisionError(
        "No confirmation is locked in this trial.",
        why="Parts confirm only what was foreseen before they were made.",
        next_step=f"Plan one: workbench confirm {folder}.",
        place=str(folder),
    )
