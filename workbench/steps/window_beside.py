"""What can be asked beside a window: how it changes with assurance, what a change would buy."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

from workbench import decide
from workbench.decide.windows import NoWindow, Window
from workbench.errors import Unavailable

if TYPE_CHECKING:
    from collections.abc import Callable

    from workbench.decide import AssuranceCurve, WhatIf
    from workbench.steps.trials import OpenTrial
    from workbench.steps.windows import WindowAnswer

Levels = tuple[tuple[str, str], ...]
Beside = TypeVar("Beside")


def curve_of(
    opened: OpenTrial,
    answer: WindowAnswer,
    *,
    progress: Callable[[int, int], None] | None = None,
) -> AssuranceCurve | Unavailable:
    """Return how the window changes with the confidence, at the levels of the answer."""
    return _beside(decide.assurance_curve, opened, answer, progress=progress)


def what_if_of(
    opened: OpenTrial,
    answer: WindowAnswer,
    *,
    progress: Callable[[int, int], None] | None = None,
) -> WhatIf | Unavailable:
    """Return what tighter settings and less scatter would buy, at the levels of the answer."""
    return _beside(decide.what_if, opened, answer, progress=progress)


def _beside(
    ask: Callable[..., Beside],
    opened: OpenTrial,
    answer: WindowAnswer,
    *,
    progress: Callable[[int, int], None] | None,
) -> Beside | Unavailable:
    """Ask for what stands beside a window with all that the window rests on."""
    levels = _levels(answer)
    if isinstance(levels, Unavailable):
        return levels
    return ask(
        answer.judged,
        share=answer.best.share,
        confidence=answer.best.confidence,
        seed=answer.seed,
        levels=levels,
        constraints=opened.trial.constraints,
        wish=answer.wish,
        progress=progress,
    )


def _levels(answer: WindowAnswer) -> Levels | Unavailable:
    """Return the levels of the best answer, or why no box was sought."""
    best = answer.best
    if isinstance(best, Window):
        return best.levels
    if best.nearest_miss is None or isinstance(answer.decision, NoWindow):
        return Unavailable(reason=best.reason)
    named = {name for levels, _ in answer.decision.by_level for name, _ in levels}
    return tuple((name, str(at)) for name, at in best.nearest_miss.settings if name in named)
