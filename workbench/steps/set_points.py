"""Set points inside the window of a trial, and the trade-off between its goals."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench import decide
from workbench.decide.windows import Window
from workbench.errors import OptionError, Unavailable
from workbench.steps.windows import find_window

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from workbench.decide.goals import Goal
    from workbench.decide.set_points import SetPoint
    from workbench.decide.trade_off import Front
    from workbench.steps.trials import OpenTrial
    from workbench.steps.windows import WindowAnswer

MOST_GOALS = 3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SetPointAnswer:
    """The window sought, the set points to choose from in it, and the front of the goals."""

    window: WindowAnswer
    goals: tuple[Goal, ...]
    points: tuple[SetPoint, ...] | Unavailable
    front: Front | Unavailable


def find_set_points(
    opened: OpenTrial,
    *,
    goals: Sequence[str] = (),
    share: float | None = None,
    confidence: float | None = None,
    seed: int | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> SetPointAnswer:
    """Return the set points to choose from, and what is traded between two or three goals.

    `goals` are written NAME=more, NAME=less or NAME=VALUE (a target in the outcome's unit);
    without any, requirements say which way is better.

    Raises
    ------
    WorkbenchError
        If a goal is not understood, share or confidence are stated nowhere, no outcome has a
        requirement, or no run has a result.
    """
    wanted = tuple(_goal(text, opened) for text in goals)
    found = find_window(opened, share=share, confidence=confidence, seed=seed, progress=progress)
    best = found.best
    chosen = wanted or decide.goals_of(found.fits)
    points: tuple[SetPoint, ...] | Unavailable = Unavailable(
        reason="there is no window to set a point in"
    )
    if isinstance(best, Window):
        drawn = opened.trial.seed if seed is None else seed
        points = decide.set_points(found.judged, best, seed=drawn, goals=chosen)
    return SetPointAnswer(
        window=found, goals=chosen, points=points, front=_front(opened, found, chosen)
    )


def _front(opened: OpenTrial, found: WindowAnswer, goals: tuple[Goal, ...]) -> Front | Unavailable:
    if not found.judged:
        return Unavailable(reason="no outcome has a model")
    if not 1 < len(goals) <= MOST_GOALS:
        return Unavailable(
            reason=f"a front is for two or three goals, and {len(goals)} are set; name them"
        )
    return decide.trade_off_front(
        found.judged,
        goals,
        constraints=opened.trial.constraints,
        window=found.best if isinstance(found.best, Window) else None,
    )


def _goal(text: str, opened: OpenTrial) -> Goal:
    name, sign, way = (part.strip() for part in text.rpartition("="))
    known = [one.name for one in opened.trial.outcomes]
    if not sign or name not in known:
        raise OptionError(
            f"The goal {text!r} names no outcome of this trial.",
            why="A goal says which way an outcome is better.",
            next_step=f"Write NAME=more, NAME=less or NAME=VALUE; outcomes: {', '.join(known)}.",
            place="--goal",
        )
    if way in ("more", "less"):
        return decide.Goal(outcome=name, better=way)
    try:
        return decide.Goal(outcome=name, better="on target", target=float(way))
    except ValueError:
        raise OptionError(
            f"The goal {text!r} is not understood.",
            why="An outcome is better when there is more, less, or as much as a target.",
            next_step="Write more, less, or a number in the outcome's unit.",
            place="--goal",
        ) from None
