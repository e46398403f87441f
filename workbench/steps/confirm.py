"""Plan a confirmation of the window and lock what is foreseen, before its first part is made."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from workbench import files, show
from workbench.decide.confirmation import RestsOn
from workbench.decide.confirmation_made import ConfirmationWish, confirmation_plan
from workbench.decide.confirmation_runs import confirmation_runs
from workbench.decide.windows import Window
from workbench.errors import PlanError, Unavailable
from workbench.files.confirmation_file import read_confirmation, write_confirmation
from workbench.files.confirmation_rests import (
    FITS,
    PARTS_PLAN,
    PARTS_TRIAL,
    TRIAL,
    plan_files_digest,
    rests_on,
)
from workbench.files.decisions import DecisionEntry, add_decision
from workbench.files.toml_text import read_text
from workbench.files.trial_toml import TRIAL_FILE
from workbench.steps.people import now, who_is_it
from workbench.steps.sheets import write_sheet
from workbench.steps.windows import find_window

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from workbench.decide.windows import NoWindow
    from workbench.files.confirmation_file import LockedConfirmation
    from workbench.fit.faces import Fit
    from workbench.plan.plans import Plan
    from workbench.steps.trials import OpenTrial
    from workbench.steps.windows import WindowAnswer

FOLDER = "confirmation"
PAGE = "confirmation_sheet.html"
LOCKED = "predictions of the confirmation are locked"


@dataclass(frozen=True, slots=True, kw_only=True)
class ConfirmWish:
    """What is asked of the plan: the promise, the parts, and why an earlier lock is replaced.

    `share`, `confidence` and `window_seed` stand instead of those in trial.toml; `seed` starts
    the order of the parts; `who` locks it.
    """

    share: float | None = None
    confidence: float | None = None
    window_seed: int | None = None
    seed: int | None = None
    parts: ConfirmationWish = field(default_factory=ConfirmationWish)
    who: str = ""
    again: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Confirmed:
    """A confirmation that was planned and locked, with its runs and where they were written."""

    locked: LockedConfirmation
    runs: Plan
    folder: Path
    page: Path


def parts_folder(folder: Path) -> Path:
    """Return the folder in which the parts of a confirmation have their own plan and journal."""
    return folder / FOLDER


def locked_confirmation(folder: Path) -> LockedConfirmation | None:
    """Return the confirmation locked in a trial folder, None if there is none.

    Raises
    ------
    FileError
        If it was changed after it was locked, or cannot be read.
    """
    return read_confirmation(folder)


def plan_confirmation(
    opened: OpenTrial, wish: ConfirmWish, *, progress: Callable[[int, int], None] | None = None
) -> Confirmed | NoWindow:
    """Find the window, plan its confirmation, lock what is foreseen, write sheet and runs.

    The parts get a folder of their own, `confirmation/`, with a copy of trial.toml, a plan and a
    run sheet. Without a window there is nothing to confirm, and nothing is written.

    Raises
    ------
    WorkbenchError
        If parts of an earlier confirmation are recorded, or one is locked and no reason is given
        to replace it.
    """
    _check_not_begun(opened.folder)
    _check_again(opened.folder, wish.again)
    found = find_window(
        opened,
        share=wish.share,
        confidence=wish.confidence,
        seed=wish.window_seed,
        progress=progress,
    )
    if not isinstance(found.best, Window):
        return found.best
    return lock_confirmation(opened, found, wish)


def lock_confirmation(opened: OpenTrial, found: WindowAnswer, wish: ConfirmWish) -> Confirmed:
    """Plan and lock the confirmation of a window that was found.

    Raises
    ------
    WorkbenchError
        If there is no window, or one of the files cannot be written.
    """
    if not isinstance(found.best, Window):
        raise _nothing_to_confirm(opened.folder, found.best)
    planned = confirmation_plan(
        found.fits,
        found.best,
        seed=opened.trial.seed if wish.seed is None else wish.seed,
        wish=wish.parts,
    )
    runs = confirmation_runs(planned, opened.trial)
    folder = parts_folder(opened.folder)
    _write_parts(opened, runs, folder)
    locked = write_confirmation(
        opened.folder,
        replace(
            planned,
            rests_on=_rests_on(opened.folder, found.fits),
            locked_at=now(),
            locked_by=who_is_it(wish.who),
        ),
    )
    _note(opened.folder, locked, again=wish.again)
    return Confirmed(
        locked=locked,
        runs=runs,
        folder=folder,
        page=_write_page(opened, locked),
    )


def fits_digest(fits: Sequence[Fit]) -> str:
    """Return a digest of the models: what each is, and its coefficients to six digits."""
    lines = []
    for fit in fits:
        lines.append(f"{fit.outcome.name}: {fit.model}")
        lines += [
            f"  {one.name} ({one.scale}) "
            + (one.value.reason if isinstance(one.value, Unavailable) else f"{one.value:.6g}")
            for one in fit.coefficients
        ]
    return f"sha256:{hashlib.sha256(chr(10).join(lines).encode()).hexdigest()}"


def _write_parts(opened: OpenTrial, runs: Plan, folder: Path) -> None:
    folder.mkdir(exist_ok=True)
    text = read_text(opened.folder / TRIAL_FILE)
    files.write_text_atomically(folder / TRIAL_FILE, text)
    files.write_plan(folder, runs)
    write_sheet(folder)


def _rests_on(folder: Path, fits: Sequence[Fit]) -> tuple[RestsOn, ...]:
    found = rests_on(folder)
    trial = next(one.digest for one in found if one.what == TRIAL)
    return (
        *found,
        RestsOn(what=FITS, digest=fits_digest(fits)),
        RestsOn(what=PARTS_TRIAL, digest=trial),
        RestsOn(what=PARTS_PLAN, digest=plan_files_digest(parts_folder(folder))),
    )


def _note(folder: Path, locked: LockedConfirmation, *, again: str) -> None:
    places = ", ".join(f"{one.parts} at the {one.name}" for one in locked.plan.places)
    instead = f"; instead of an earlier one: {again.strip()}" if again.strip() else ""
    entry = DecisionEntry(
        what=LOCKED,
        reason=f"{locked.plan.n_parts} parts: {places}; {locked.digest}{instead}",
        by=locked.plan.locked_by,
        at=locked.plan.locked_at,
    )
    add_decision(folder, entry)


def _write_page(opened: OpenTrial, locked: LockedConfirmation) -> Path:
    path = opened.folder / PAGE
    files.write_text_atomically(path, show.confirmation_sheet(opened.trial, locked.plan))
    return path


def _check_not_begun(folder: Path) -> None:
    results = parts_folder(folder) / "results"
    if not results.is_dir() or not any(results.glob("*.jsonl")):
        return
    raise PlanError(
        "Parts of a confirmation are recorded already.",
        why="Predictions that are locked after parts were seen predict nothing.",
        next_step=f"Ask for its verdict: workbench confirm {folder} --verdict. For a new "
        f"confirmation, first move {FOLDER} and confirmation.toml aside.",
        place=str(parts_folder(folder)),
    )


def _check_again(folder: Path, again: str) -> None:
    locked = read_confirmation(folder) if not again.strip() else None
    if locked is None:
        return
    raise PlanError(
        f"A confirmation was locked on {locked.plan.locked_at[:10]} by {locked.plan.locked_by}.",
        why="What is foreseen is written down once, before parts are made.",
        next_step=f"Make its parts ({FOLDER}/run_sheet.html). To lock another instead, say why: "
        '--again "…".',
        place=str(folder / "confirmation.toml"),
    )


def _nothing_to_confirm(folder: Path, none: NoWindow) -> PlanError:
    return PlanError(
        f"There is no window to confirm: {none.reason}",
        why="A confirmation shows that a window holds.",
        next_step=none.next_trial,
        place=str(folder),
    )
