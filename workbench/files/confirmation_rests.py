"""What a confirmation rests on: digests of trial, plan and results, to notice a later change."""

from __future__ import annotations

import hashlib
from importlib.metadata import version
from typing import TYPE_CHECKING

from workbench.decide.confirmation import RestsOn
from workbench.errors import FileError
from workbench.files.digests import file_digest, text_digest
from workbench.files.journal_lines import FOLDER
from workbench.files.toml_text import read_text
from workbench.files.trial_toml import TRIAL_FILE
from workbench.files.versions import PLAN_FILE, PLAN_TABLE
from workbench.plan.draft import DISTRIBUTION

if TYPE_CHECKING:
    from pathlib import Path

    from workbench.decide.confirmation import ConfirmationPlan

TRIAL, PLAN, RESULTS, FITS, VERSION = "trial", "plan", "results", "fits", "workbench"
PARTS_TRIAL, PARTS_PLAN = "trial of the parts", "plan of the parts"
NOTHING = "none"


def rests_on(folder: Path) -> tuple[RestsOn, ...]:
    """Return the digests of what stands in a trial folder now, and the workbench's version."""
    return (
        RestsOn(what=TRIAL, digest=text_digest(read_text(folder / TRIAL_FILE))),
        RestsOn(what=PLAN, digest=plan_files_digest(folder)),
        RestsOn(what=RESULTS, digest=_results(folder)),
        RestsOn(what=VERSION, digest=version(DISTRIBUTION)),
    )


def plan_files_digest(folder: Path) -> str:
    """Return the digest of plan.csv and plan.toml together, a word if there is no plan."""
    paths = (folder / PLAN_TABLE, folder / PLAN_FILE)
    if not all(path.is_file() for path in paths):
        return NOTHING
    return text_digest("\n".join(read_text(path) for path in paths))


def check_parts_files(parts: Path, plan: ConfirmationPlan) -> None:
    """Check that trial and plan of the parts, in their own folder, are those that were locked.

    Raises
    ------
    FileError
        If one is missing or was changed.
    """
    now = {
        PARTS_TRIAL: text_digest(read_text(parts / TRIAL_FILE)),
        PARTS_PLAN: plan_files_digest(parts),
    }
    locked = {one.what: one.digest for one in plan.rests_on}
    for what, digest in now.items():
        if digest == locked.get(what):
            continue
        name = TRIAL_FILE if what == PARTS_TRIAL else f"{PLAN_TABLE} or {PLAN_FILE}"
        raise FileError(
            f"{name} of the parts was changed after the confirmation was locked.",
            why="Parts are judged by the requirements and settings that stood when they were "
            "foreseen.",
            next_step="Put the files back as they were (trial.toml is a copy of the trial's own "
            "at that time); ask another question in a new confirmation.",
            place=str(parts),
        )


def _results(folder: Path) -> str:
    """Return one digest of all journal files, each with its name; a word if there are none."""
    paths = sorted((folder / FOLDER).glob("*.jsonl"))
    if not paths:
        return NOTHING
    whole = hashlib.sha256()
    for path in paths:
        whole.update(f"{path.name} {file_digest(path)}\n".encode())
    return f"sha256:{whole.hexdigest()}"
