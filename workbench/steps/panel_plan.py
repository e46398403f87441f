"""What the planning panel does with a trial folder: read, check, compare, write, take a plan."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench import files
from workbench.define.factors import is_numeric
from workbench.errors import PlanError, Unavailable, WorkbenchError
from workbench.files.trial_changes import trial_changes
from workbench.files.trial_toml import TRIAL_FILE
from workbench.plan.candidate_facts import model_name
from workbench.plan.precision import precision_map
from workbench.show.aims import found_size_with_unit
from workbench.show.numbers import fixed
from workbench.steps.choosing import ChoiceWish, compared
from workbench.steps.panel_draft import draft_of, text_of
from workbench.steps.plan_wish import PlanWish
from workbench.steps.planning import make_plan
from workbench.steps.trials import check_is_trial

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from workbench.define.trial import Trial
    from workbench.plan.candidate_nouns import Candidate, Comparison, Detects
    from workbench.plan.plans import Plan
    from workbench.steps.panel_draft import DraftSection

WORTH_DRAWING = 0.25  # of an overlap of two effects, as in the alias map
GRID = 5  # points on a side of the small precision map


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What a plan finds of an outcome, in words; `verdict` is "meets", "fails" or ""."""

    outcome: str
    size: str
    verdict: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Joined:
    """Two effects that share information: `is_whole` if they are one number for both."""

    one: str
    other: str
    size: float
    is_whole: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PrecisionGrid:
    """Standard error (rows from high to low y) of the mean, in units of the scatter, as text."""

    x: str
    y: str
    across: tuple[str, ...]
    up: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    held: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanRow:
    """A candidate as the panel shows it, every number in words."""

    name: str
    kind: str
    runs: int
    parts: int
    resets: int
    days: str
    cost: str
    found: tuple[Found, ...]
    known_to: str
    carries: str
    error_df: int
    gives_up: str
    recommended: bool
    why: str
    effects: tuple[str, ...]
    joined: tuple[Joined, ...]
    largest: str
    precision: PrecisionGrid | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanRows:
    """Candidates side by side and what was left out, or the reason why there are none."""

    asked: str
    plans: tuple[PlanRow, ...] = ()
    left_out: tuple[tuple[str, str], ...] = ()
    problem: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanForm:
    """A trial folder as the planning panel reads it: the form, the trial, the plan that stands."""

    draft: tuple[DraftSection, ...]
    trial: Trial
    plan: str


def plan_form(folder: Path) -> PlanForm:
    """Read the form of a trial.

    Raises
    ------
    WorkbenchError
        If the folder is no trial or trial.toml cannot be understood.
    """
    check_is_trial(folder)
    trial = files.read_trial(folder)
    return PlanForm(draft=draft_of(trial), trial=trial, plan=_plan_words(folder, trial))


def _plan_words(folder: Path, trial: Trial) -> str:
    try:
        made = files.read_plan(folder, trial)
    except WorkbenchError as met:
        return f"The plan that stands does not fit the trial any more: {met.wrong}"
    return (
        "No plan is written yet."
        if made is None
        else f"A plan stands: {made.recipe.kind}, {len(made)} runs."
    )


def changes_since(folder: Path, read_as: Trial) -> tuple[str, ...]:
    """Return what was changed in trial.toml since it was read; empty if nothing was.

    Raises
    ------
    WorkbenchError
        If it cannot be understood any more.
    """
    now = files.read_trial(folder)
    if now == read_as:
        return ()
    return trial_changes(read_as, now) or ("its title, words or budget",)


def compared_plans(draft: Sequence[DraftSection]) -> PlanRows:
    """Return the plans that fit a draft, side by side; a draft that is no trial has none."""
    try:
        trial = files.trial_from_text(text_of(draft))
        found = compared(trial, ChoiceWish())
    except WorkbenchError as met:
        return PlanRows(asked="", problem=f"{met.wrong} {met.why} {met.next_step}")
    return PlanRows(
        asked=_asked(found),
        plans=tuple(map(_row, found.candidates)),
        left_out=found.left_out,
    )


def _asked(found: Comparison) -> str:
    assumed = ", assumed since none is stated" if found.is_assumed else ""
    return (
        f"For the {model_name(found.asked)} model{assumed}; found means with a chance of "
        f"{found.chance * 100:.0f} %, tested at {found.alpha * 100:.0f} %."
    )


def write_draft(folder: Path, draft: Sequence[DraftSection], *, read_as: Trial) -> Trial:
    """Write a draft to trial.toml, comments kept, and return it as a trial.

    Raises
    ------
    WorkbenchError
        If it is no trial, or the file says anything else than `read_as` by now; nothing is
        written then.
    """
    trial = files.trial_from_text(text_of(draft))
    files.write_trial(folder, trial, read_as=read_as)
    return trial


def take_plan(folder: Path, name: str, *, read_as: Trial) -> str:
    """Write the plan of a candidate and return what was written, in words.

    Raises
    ------
    WorkbenchError
        If there are results, trial.toml is not what was compared, or there is no such plan.
    """
    changed = changes_since(folder, read_as)
    if changed:
        raise PlanError(
            f"{TRIAL_FILE} is not the trial that was compared: {'; '.join(changed)}.",
            why="The plan would be one for other settings.",
            next_step="Take the file into the form first.",
        )
    answer = make_plan(folder, PlanWish(take=name))
    return f"plan.csv and plan.toml are written: {name}, {len(answer.plan)} runs."


def _row(one: Candidate) -> PlanRow:
    effects, joined = _effects(one)
    largest = max((abs(o.size) for o in one.mixing.partly), default=0.0)
    return PlanRow(
        name=one.name,
        kind=one.plan.recipe.kind,
        runs=len(one.plan),
        parts=one.parts,
        resets=one.resets,
        days=_known(one.days, 1),
        cost=_known(one.cost, 0),
        found=() if isinstance(one.detects, Unavailable) else tuple(map(_found, one.detects)),
        known_to=fixed(one.standard_error, 2),
        carries=model_name(one.carries),
        error_df=one.error_df,
        gives_up=one.gives_up,
        recommended=one.recommended,
        why=one.why,
        effects=effects,
        joined=joined,
        largest=fixed(largest, 2),
        precision=_precision(one.plan),
    )


def _known(value: float | Unavailable, decimals: int) -> str:
    return "" if isinstance(value, Unavailable) else fixed(value, decimals)


def _found(detects: Detects) -> Found:
    worst, aim = detects.worst_main_effect, detects.aim
    if isinstance(worst, Unavailable):
        return Found(outcome=aim.outcome, size="not known", verdict="")
    verdict = {None: "", True: "meets", False: "fails"}[detects.finds]
    return Found(outcome=aim.outcome, size=found_size_with_unit(aim, worst), verdict=verdict)


def _effects(one: Candidate) -> tuple[tuple[str, ...], tuple[Joined, ...]]:
    """Return the effects that share information with another, and the pairs that do."""
    whole = [
        Joined(one=str(group[0]), other=str(other), size=1.0, is_whole=True)
        for group in one.mixing.groups
        for other in group[1:]
    ]
    partly = [
        Joined(one=str(o.one), other=str(o.other), size=abs(o.size), is_whole=False)
        for o in one.mixing.partly
        if abs(o.size) > WORTH_DRAWING
    ]
    names = [f.name for f in one.plan.settings.factors]
    names += [word for pair in (*whole, *partly) for word in (pair.one, pair.other)]
    return tuple(dict.fromkeys(names)), (*whole, *partly)


def _precision(plan: Plan) -> PrecisionGrid | None:
    axes = [factor for factor in plan.settings.factors if is_numeric(factor)][:2]
    if len(axes) < 2:
        return None
    try:
        drawn = precision_map(plan, x=axes[0].name, y=axes[1].name, n_points=GRID)
    except WorkbenchError:
        return None
    return PrecisionGrid(
        x=f"{axes[0].name}, {axes[0].unit}".removesuffix(", "),
        y=f"{axes[1].name}, {axes[1].unit}".removesuffix(", "),
        across=tuple(f"{value:.4g}" for value in drawn.x),
        up=tuple(f"{value:.4g}" for value in drawn.y[::-1]),
        rows=tuple(
            tuple(fixed(float(value), 2) for value in row)
            for row in np.asarray(drawn.standard_error)[::-1]
        ),
        held=drawn.held,
    )
