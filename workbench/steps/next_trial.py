"""The next trial of a folder: what would help most, and taking it as a new block of the plan."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench import decide, files, plan
from workbench.decide.next_trial import Kind
from workbench.errors import OptionError, PlanError, Unavailable
from workbench.steps.sheets import write_sheet
from workbench.steps.windows import find_window

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from workbench.decide.next_trial import NextTrial, NextTrials
    from workbench.plan.plans import Plan
    from workbench.steps.sheets import Sheets
    from workbench.steps.trials import OpenTrial
    from workbench.steps.windows import WindowAnswer


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NextAnswer:
    """The window sought, and what to run next: candidates, or why none would help."""

    window: WindowAnswer
    next: NextTrials | Unavailable


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TakenRuns:
    """A candidate that was taken: the longer plan, its first new run, the sheets for them."""

    trial: NextTrial
    plan: Plan
    first_run: int
    seed: int
    sheets: Sheets


def propose_next(
    opened: OpenTrial,
    *,
    share: float | None = None,
    confidence: float | None = None,
    seed: int | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> NextAnswer:
    """Return what to run next in a trial, the candidate that would help most first.

    Raises
    ------
    WorkbenchError
        If share or confidence are stated nowhere, no outcome has a requirement, or no run has a
        result.
    """
    found = find_window(opened, share=share, confidence=confidence, seed=seed, progress=progress)
    return NextAnswer(window=found, next=next_after(opened, found, seed=seed))


def next_after(
    opened: OpenTrial, found: WindowAnswer, *, seed: int | None = None
) -> NextTrials | Unavailable:
    """Return what to run next after a window that was sought already."""
    if opened.plan is None:
        return Unavailable(
            reason="the results were made without a plan, so no runs can be added to it"
        )
    if not found.fits:
        return Unavailable(reason=getattr(found.best, "reason", "no outcome has a model"))
    return decide.next_trials(
        found.judged,
        found.decision,
        opened.plan,
        trial=opened.trial,
        seed=opened.trial.seed if seed is None else seed,
    )


def take_next(
    opened: OpenTrial, answer: NextAnswer, kind: str, *, seed: int | None = None
) -> TakenRuns:
    """Add the runs of a candidate to the plan as a new block, and write the sheets for them.

    The earlier runs keep their numbers and settings, so results that point at the plan as it was
    are read with the longer one; a copy of the plan as it was stays in versions. The new runs are
    in an order drawn by `seed` (by default the trial's seed plus the number of blocks), which is
    written into the recipe.

    Raises
    ------
    OptionError
        If there is no candidate of that kind, or it has no runs.
    PlanError
        If the runs lie outside the ranges of the trial, or one is forbidden.
    """
    chosen = _chosen(answer, kind)
    before = opened.plan
    if before is None:
        raise _no_plan(opened.folder)
    _check_ranges(chosen, opened)
    drawn = opened.trial.seed + before.n_blocks if seed is None else seed
    longer = plan.with_added_block(
        opened.trial,
        before,
        chosen.runs,
        point=chosen.point,
        what_for=str(chosen.kind),
        seed=drawn,
    )
    files.write_plan(opened.folder, longer)
    first = len(before) + 1
    return TakenRuns(
        trial=chosen,
        plan=longer,
        first_run=first,
        seed=drawn,
        sheets=write_sheet(opened.folder, first_run=first),
    )


def _chosen(answer: NextAnswer, kind: str) -> NextTrial:
    there = () if isinstance(answer.next, Unavailable) else answer.next.trials
    found = next((one for one in there if one.kind == kind), None)
    if found is not None and len(found):
        return found
    runnable = ", ".join(str(one.kind) for one in there if len(one))
    if found is not None or kind == Kind.LESS_SCATTER:
        raise OptionError(
            f"{kind.capitalize()} is nothing to run.",
            why="It asks for a better process at one setting, not for more settings.",
            next_step=f"Take one of: {runnable}." if runnable else "Find the cause first.",
            place="--take",
        )
    raise OptionError(
        f"There is no candidate {kind!r} here.",
        why="What can help depends on what stands in the way.",
        next_step=f"Take one of: {runnable}." if runnable else "See workbench next DIR.",
        place="--take",
    )


def _check_ranges(chosen: NextTrial, opened: OpenTrial) -> None:
    """Refuse runs beyond the ranges of the trial, which only people can move."""
    if not chosen.ranges:
        return
    lines = "; ".join(
        f"{one.factor}: low = {one.low:g}, high = {one.high:g}" for one in chosen.ranges
    )
    raise PlanError(
        "These runs go beyond the ranges of the trial.",
        why="Whether that is possible and safe is for the people who know the process to say.",
        next_step=f"If it is, write into trial.toml: {lines}; then take it again.",
        place=str(opened.folder / "trial.toml"),
    )


def _no_plan(folder: Path) -> PlanError:
    return PlanError(
        "These results were made without a plan.",
        why="Added runs go on from a plan, or their numbers would stand for other settings.",
        next_step="Plan the new runs in a folder of their own.",
        place=str(folder),
    )
