"""The versions of plan and trial that results were made under, kept beside the journal.

Each entry names the plan and the trial that stood when it was made; the files themselves are
kept as `versions/plan-….csv`, `plan-….toml` and `trial-….toml` from the first entry on.
"""

from __future__ import annotations

import tomllib
from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.errors import FileError, RecordError, WorkbenchError
from workbench.files.atomic import write_text_atomically
from workbench.files.continued import goes_on_from, latest
from workbench.files.digests import pointer_to, text_digest
from workbench.files.journal_ends import last_line
from workbench.files.journal_lines import FOLDER, checked_pointer, headed
from workbench.files.links import check_stays_inside
from workbench.files.sheet_mark import short_digest
from workbench.files.toml_text import read_text
from workbench.files.trial_changes import trial_changes
from workbench.files.trial_toml import TRIAL_FILE, trial_from_text

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from workbench.define.trial import Trial
    from workbench.files.journal_lines import Line

KEPT = "versions"
PLAN_TABLE = "plan.csv"
PLAN_FILE = "plan.toml"
LONGEST_LINE = 1_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeUnder:
    """What a new entry is made under: `plan` empty if there is none, None if it is not said."""

    plan: str | None
    trial: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanPair:
    """Where a plan stands: its table and its recipe."""

    table: Path
    recipe: Path


def keep_versions(folder: Path) -> MadeUnder:
    """Return what entries made now are made under, after keeping a copy of it.

    Results that are there already decide on the plan: another plan.csv put in their way changes
    nothing for them, unless it goes on from theirs. A folder without trial.toml says nothing.

    Raises
    ------
    FileError
        If a copy cannot be written.
    RecordError
        If results were entered under two plans.
    """
    if not (folder / TRIAL_FILE).is_file():
        return MadeUnder(plan=None, trial="")
    text = read_text(folder / TRIAL_FILE)
    trial = pointer_to(text_digest(text))
    _keep(kept_trial(folder, trial), text)
    plan = plan_of_results(folder)
    is_here = plan is None or (plan and _here_goes_on_from(folder, plan))
    return MadeUnder(plan=_kept_plan(folder) if is_here else plan, trial=trial)


def plan_of_results(folder: Path) -> str | None:
    """Return the plan that results point at: empty if they had none, None if nothing says.

    Where runs were added to a plan, it is the one that holds all runs.

    Raises
    ------
    RecordError
        If results were entered under two plans of which neither goes on from the other.
    """
    return _one_plan(
        folder,
        {
            path.stem: plan
            for path in sorted((folder / FOLDER).glob("*.jsonl"))
            if path.is_file() and (plan := _plan_at_end(path)) is not None
        },
    )


def plan_pair(folder: Path) -> PlanPair | None:
    """Return the plan by which results are read, None where they were made without one.

    It is the one in the folder if it is theirs or goes on from theirs, else the kept copy.

    Raises
    ------
    FileError
        If results point at a plan that is neither here nor kept.
    RecordError
        If results were entered under two plans.
    """
    here = PlanPair(table=folder / PLAN_TABLE, recipe=folder / PLAN_FILE)
    plan = plan_of_results(folder)
    if plan is None:
        return here
    if not plan:
        return None
    if _said_digest(here.recipe) == plan or here.table.exists() != here.recipe.exists():
        return here
    if _here_goes_on_from(folder, plan):
        return here
    kept = kept_plan(folder, plan)
    if not (kept.table.is_file() and kept.recipe.is_file()):
        raise FileError(
            f"The results were made under the plan {short_digest(plan)}, which is not here.",
            why="Run numbers of another plan stand for other settings.",
            next_step=f"Put that plan.csv and plan.toml back, or {kept.table.name} and "
            f"{kept.recipe.name} into {KEPT}.",
            place=str(folder),
        )
    return kept


def version_notes(folder: Path) -> tuple[str, ...]:
    """Return what is to be said where plan or trial were changed after the first result.

    Raises
    ------
    RecordError
        If results were entered under two plans.
    """
    plan = plan_of_results(folder)
    first = _first_trial(folder)
    notes = ("" if plan is None else _plan_note(folder, plan), _trial_note(folder, first))
    return tuple(note for note in notes if note)


def changes_since_first(folder: Path, trial: Trial) -> str:
    """Return what was changed in a trial since its first result, empty if nothing is known."""
    first = _first_trial(folder)
    return "; ".join(_changes(folder, first, trial)) if first else ""


def kept_plan(folder: Path, plan: str) -> PlanPair:
    """Return where the copy of a plan is kept."""
    stem = f"plan-{short_digest(plan)}"
    return PlanPair(table=folder / KEPT / f"{stem}.csv", recipe=folder / KEPT / f"{stem}.toml")


def kept_trial(folder: Path, trial: str) -> Path:
    """Return where the copy of a trial is kept."""
    return folder / KEPT / f"trial-{short_digest(trial)}.toml"


def _kept_plan(folder: Path) -> str:
    here = PlanPair(table=folder / PLAN_TABLE, recipe=folder / PLAN_FILE)
    if not (here.table.is_file() and here.recipe.is_file()):
        return ""
    text = read_text(here.table)
    plan = pointer_to(text_digest(text))
    kept = kept_plan(folder, plan)
    _keep(kept.table, text)
    _keep(kept.recipe, read_text(here.recipe))
    return plan


def _here_goes_on_from(folder: Path, plan: str) -> bool:
    """Return whether the plan in the folder begins with the whole plan named, or is it."""
    table = folder / PLAN_TABLE
    try:
        return table.is_file() and goes_on_from(read_text(table), plan)
    except WorkbenchError:
        return False  # reading the plan says so


def _keep(path: Path, text: str) -> None:
    if not path.exists():
        check_stays_inside(path.parent, path.parent.parent)
        path.parent.mkdir(parents=True, exist_ok=True)
        write_text_atomically(path, text)


def _plan_at_end(path: Path) -> str | None:
    """Return the plan that a file's last line names: theirs, or one that goes on from theirs."""
    try:
        line = last_line(path).line or headed(_first_bytes(path))
    except OSError:
        return None  # reading the journal says so
    return None if line is None else _pointer(line, "plan")


def _first_trial(folder: Path) -> str:
    """Return the trial that the earliest entry names, looking at first lines alone."""
    found = []
    for path in sorted((folder / FOLDER).glob("*.jsonl")):
        with suppress(OSError):  # reading the journal says so
            line = headed(_first_bytes(path)) if path.is_file() else None
            trial = None if line is None else _pointer(line, "trial")
            if line is not None and trial:
                found.append((str(line.fields.get("when")), trial))
    return min(found)[1] if found else ""


def _pointer(line: Line, key: str) -> str | None:
    try:
        return checked_pointer(line.fields.get(key))
    except ValueError:  # none is said; or reading the journal says what is wrong with the line
        return None


def _first_bytes(path: Path) -> bytes:
    with path.open("rb") as stream:
        return stream.readline(LONGEST_LINE)


def _one_plan(folder: Path, plans: Mapping[str, str]) -> str | None:
    found = set(plans.values())
    if len(found) < 2:
        return next(iter(found), None)
    whole = latest({plan: _table_of(folder, plan) for plan in sorted(found)})
    if whole is not None:
        return whole
    said = ", ".join(
        f"{FOLDER}/{writer}.jsonl under {_plan_words(plan)}" for writer, plan in plans.items()
    )
    raise RecordError(
        f"Results were entered under different plans: {said}.",
        why="The same run number stands for other settings in each, so they cannot be read as "
        "one trial.",
        next_step="Give each plan a folder of its own: copy trial.toml there, and move the "
        f"journal files (.jsonl and .end) and their plan from {KEPT}.",
        place=FOLDER,
    )


def _table_of(folder: Path, plan: str) -> str:
    """Return the table of a plan that results point at, empty where it is gone."""
    for path in (kept_plan(folder, plan).table, folder / PLAN_TABLE):
        try:
            text = read_text(path) if path.is_file() else ""
        except WorkbenchError:
            continue
        if pointer_to(text_digest(text)) == plan:
            return text
    return ""


def _plan_words(plan: str) -> str:
    return f"plan {short_digest(plan)}" if plan else "no plan"


def _said_digest(recipe: Path) -> str:
    try:
        digest = tomllib.loads(read_text(recipe)).get("digest")
    except (WorkbenchError, ValueError, RecursionError):
        return ""
    return pointer_to(digest) if isinstance(digest, str) else ""


def _plan_note(folder: Path, plan: str) -> str:
    table = folder / PLAN_TABLE
    kept = kept_plan(folder, plan).table.relative_to(folder).as_posix()
    if not table.is_file():
        return (
            f"{PLAN_TABLE} is gone; the results are read under the plan kept as {kept}."
            if plan
            else ""
        )
    if not plan:
        return (
            f"The results were entered before there was a plan, so {PLAN_TABLE} is not read with "
            "them; put it into a folder of its own with trial.toml to run it."
        )
    if _said_digest(folder / PLAN_FILE) == plan or _here_goes_on_from(folder, plan):
        return ""
    return (
        f"{PLAN_TABLE} holds another plan than the one that the results were made under: they "
        f"are read under theirs, kept as {kept}. To run the plan in {PLAN_TABLE}, put it "
        "into a folder of its own with trial.toml."
    )


def _trial_note(folder: Path, first: str) -> str:
    if not first:
        return ""
    try:
        text = read_text(folder / TRIAL_FILE)
        if pointer_to(text_digest(text)) == first:
            return ""
        changes = _changes(folder, first, trial_from_text(text))
    except WorkbenchError:
        return ""  # reading the trial says so
    kept = kept_trial(folder, first).relative_to(folder).as_posix()
    if not changes:
        return ""
    return (
        f"{TRIAL_FILE} was changed after the first result (as it was: {kept}): "
        f"{'; '.join(changes)}."
    )


def _changes(folder: Path, first: str, trial: Trial) -> tuple[str, ...]:
    path = kept_trial(folder, first)
    try:
        return trial_changes(trial_from_text(read_text(path), name=path.name), trial)
    except WorkbenchError:
        return ("what it said then cannot be read any more",)
