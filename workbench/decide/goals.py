"""Goals: which way each outcome is better, from its requirement unless it is stated."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.outcomes import Graded, Measured, PassFail
from workbench.errors import DecisionError, Unavailable

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from workbench.define.outcomes import Outcome
    from workbench.define.settings import Settings
    from workbench.fit.faces import Fit

MORE, LESS, TARGET = "more", "less", "on target"


@dataclass(frozen=True, slots=True, kw_only=True)
class Goal:
    """What is better of one outcome: "more", "less", or "on target" (then `target`, in its unit).

    Of a pass/fail outcome it is the share that passes, of a graded one the share that meets its
    requirement.
    """

    outcome: str
    better: str
    target: float | None = None

    def __post_init__(self) -> None:
        if self.better not in (MORE, LESS, TARGET) or (self.better == TARGET) != (
            self.target is not None
        ):
            raise DecisionError(
                f"The goal of {self.outcome} is {self.better!r} with target {self.target}.",
                why="A goal is more, less, or on target with its target.",
                next_step="Write one of them.",
            )

    def merit(self, means: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return means (n,) so that more is better: on target, minus the distance from it."""
        if self.target is not None:
            return -np.abs(means - self.target)
        return means if self.better == MORE else -means

    def words(self) -> str:
        """Return the goal in words, such as "more peel force"."""
        if self.target is not None:
            return f"{self.outcome} near {self.target:g}"
        return f"{self.better} {self.outcome}"


def goal_of(outcome: Outcome) -> Goal | None:
    """Return the goal that a requirement implies, None where there is none.

    At least some value: more is better; at most: less; between two: on target, else in the
    middle between them.
    """
    if isinstance(outcome, PassFail | Graded):
        return Goal(outcome=outcome.name, better=MORE)
    asked = outcome.requirement
    if asked is None:
        return None
    if asked.target is not None:
        return Goal(outcome=outcome.name, better=TARGET, target=asked.target)
    if asked.low is not None and asked.high is not None:
        log = isinstance(outcome, Measured) and outcome.scale == "log" and asked.low > 0
        middle = (asked.low * asked.high) ** 0.5 if log else (asked.low + asked.high) / 2
        return Goal(outcome=outcome.name, better=TARGET, target=middle)
    return Goal(outcome=outcome.name, better=MORE if asked.high is None else LESS)


def goals_of(fits: Sequence[Fit]) -> tuple[Goal, ...]:
    """Return the goals that the requirements imply, one an outcome that has one."""
    found = (goal_of(fit.outcome) for fit in fits)
    return tuple(one for one in found if one is not None)


def fit_named(fits: Sequence[Fit], name: str) -> Fit:
    """Return the fit of an outcome.

    Raises
    ------
    DecisionError
        If there is none.
    """
    for fit in fits:
        if fit.outcome.name == name:
            return fit
    raise DecisionError(
        f"There is no fit of {name!r}.",
        why="A goal is set for an outcome that has a model.",
        next_step=f"Use: {', '.join(fit.outcome.name for fit in fits)}.",
    )


def means(fit: Fit, settings: Settings) -> NDArray[np.float64] | Unavailable:
    """Return the fitted means (n,) of an outcome at settings (n, k)."""
    found = fit.predict(settings, confidence=0.95)
    return found if isinstance(found, Unavailable) else np.asarray(found.mean)
