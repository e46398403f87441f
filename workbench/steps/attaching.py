"""Attach a photo or another file to a run, or to one part or outcome of it."""

from __future__ import annotations

import platform
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from workbench import files
from workbench.errors import FileError, RecordError
from workbench.files.attached_copy import copied_inside
from workbench.files.attached_files import attached_file
from workbench.files.entries import MOST_COUNTED, RunEntry
from workbench.files.journal import FOLDER as JOURNAL
from workbench.files.record_files import held_now
from workbench.run.words import run_words
from workbench.steps.check_folder import KNOWN
from workbench.steps.trials import check_is_trial

if TYPE_CHECKING:
    from pathlib import Path

    from workbench.define.trial import Trial
    from workbench.files.entries import Attachment
    from workbench.files.journal import Journal
    from workbench.steps.json_values import JsonObject


@dataclass(frozen=True, slots=True, kw_only=True)
class AttachWish:
    """To what a file belongs, what is said of it, and who attaches it.

    `part` is 0 and `outcome` empty where it belongs to the whole run.
    """

    run: int
    who: str
    part: int = 0
    outcome: str = ""
    note: str = ""
    writer: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Attaching:
    """What was attached; whether it was copied into the folder, and whether it is new."""

    run: int
    attachment: Attachment
    was_copied: bool
    is_new: bool

    @property
    def belongs_to(self) -> str:
        """What the file belongs to, in words."""
        one = self.attachment
        part = f", part {one.part}" if one.part else ""
        outcome = f", {one.outcome}" if one.outcome else ""
        return f"run {self.run}{part}{outcome}"


def attach_file(folder: Path, file: Path, wish: AttachWish) -> Attaching:
    """Enter into the journal that a file belongs to a run.

    A file inside the trial folder is named by its path there; any other is copied into
    `attachments` of the folder, over no other file. Attaching the same file twice adds nothing.

    Raises
    ------
    WorkbenchError
        If there is no such file, run or outcome; then nothing is written.
    """
    check_is_trial(folder)
    trial = files.read_trial(folder)
    journal = files.read_journal(folder)
    _check_place(folder, trial, wish, journal=journal)
    inside = _inside(folder, file)
    path = copied_inside(folder, file) if inside is None else folder / inside
    name = path.relative_to(folder).as_posix()
    _check_stays(name, folder)
    one = replace(
        attached_file(folder, name, note=wish.note.strip()), part=wish.part, outcome=wish.outcome
    )
    before = held_now(journal, trial, last_stands=True).attached
    is_new = before.get((wish.run, one.path, one.part, one.outcome)) != one
    if is_new:
        writer = wish.writer or files.writer_name(wish.who, platform.node())
        entry = RunEntry(run=wish.run, attachments=(one,))
        files.append(folder, [entry], writer=writer, who=wish.who)
    return Attaching(run=wish.run, attachment=one, was_copied=inside is None, is_new=is_new)


def attach_answer(made: Attaching) -> JsonObject:
    """Return the answer of `attach`.

    run, part (null for the whole run), outcome, path, sha256, note: the file as the journal has it
    copied, new: whether it was copied into the folder; false if it was attached before
    """
    one = made.attachment
    return {
        "run": made.run,
        "part": one.part or None,
        "outcome": one.outcome,
        "path": one.path,
        "sha256": one.digest,
        "note": one.note,
        "copied": made.was_copied,
        "new": made.is_new,
    }


def _inside(folder: Path, file: Path) -> str | None:
    """Return the path of a file inside the trial folder, None if it lies elsewhere."""
    try:
        whole = file.parent.resolve() / file.name
        home = folder.resolve()
    except (OSError, RuntimeError):  # links that go round in a circle
        return None
    return whole.relative_to(home).as_posix() if whole.is_relative_to(home) else None


def _check_place(folder: Path, trial: Trial, wish: AttachWish, *, journal: Journal) -> None:
    if wish.outcome:
        trial.outcome(wish.outcome)  # refuses a name that the trial has not
    if not 0 <= wish.part <= MOST_COUNTED:
        raise RecordError(
            f"{wish.part} is no number of a part.",
            why="Parts are counted from 1.",
            next_step="Write the part, or leave it out for the whole run.",
        )
    plan = files.read_plan(folder, trial)
    record = files.read_record(folder, trial, plan, last_stands=True, journal=journal)
    runs = record.run.tolist()
    if wish.run not in runs:
        known = f"The trial has {run_words(runs)}" if runs else "The trial has no run yet"
        raise RecordError(
            f"Run {wish.run} is neither planned nor recorded.",
            why=f"{known}.",
            next_step="Correct the number, or take the run's results in first.",
            place=str(folder),
        )


def _check_stays(name: str, folder: Path) -> None:
    """Refuse a file that the workbench itself writes: its digest is meant to change."""
    if name in KNOWN or name.startswith((f"{JOURNAL}/", "versions/", "export/")):
        raise FileError(
            f"{name} is written by the workbench.",
            why="It changes as the trial goes on, and would look like a file that was changed.",
            next_step="Attach photos and other files of your own.",
            place=str(folder),
        )
