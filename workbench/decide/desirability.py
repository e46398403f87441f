"""Desirability of fitted means: a classical compromise between goals, beside the window.

Derringer and Suich (1980), Journal of Quality Technology 12, 214-219. It looks at means alone:
neither how sure they are nor how parts scatter stands in it, so it promises nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.decide.goals import LESS, TARGET
from workbench.errors import DecisionError
from workbench.numerics.desirability import overall, ramp

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from workbench.decide.goals import Goal
    from workbench.define.outcomes import Outcome


@dataclass(frozen=True, slots=True, kw_only=True)
class Desire:
    """How desirable each mean of an outcome is, from 0 to 1.

    It is 1 from `full_low` to `full_high` and falls to 0 at `low` and at `high`; None of a pair
    leaves that side open (1 however far). `weight` bends both slopes, `importance` counts the
    outcome in the geometric mean.
    """

    outcome: str
    low: float | None = None
    full_low: float | None = None
    full_high: float | None = None
    high: float | None = None
    weight: float = 1.0
    importance: float = 1.0

    def __post_init__(self) -> None:
        pairs = ((self.low, self.full_low), (self.full_high, self.high))
        slopes = [(a, b) for a, b in pairs if a is not None and b is not None]
        halves = any((a is None) != (b is None) for a, b in pairs)
        if not slopes or halves or any(a >= b for a, b in slopes):
            raise DecisionError(
                f"The desirability of {self.outcome} has no slope from nothing to full.",
                why="Each side goes from a value that is worth nothing to one that is worth all.",
                next_step="State low and full_low, full_high and high, or all four, in order.",
            )
        if not (self.weight > 0 and self.importance > 0):
            raise DecisionError(
                f"{self.outcome} has weight {self.weight:g} and importance {self.importance:g}.",
                why="Both are above zero.",
                next_step="Leave the outcome out if it does not count.",
            )

    def of(self, means: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the desirability (n,) of means (n,)."""
        found = np.ones(means.shape)
        if self.low is not None and self.full_low is not None:
            found = ramp(means, nothing=self.low, full=self.full_low, weight=self.weight)
        if self.high is not None and self.full_high is not None:
            other = ramp(means, nothing=self.high, full=self.full_high, weight=self.weight)
            found = np.minimum(found, other)
        return np.asarray(found)


def desirability(
    desires: Sequence[Desire], means: Sequence[NDArray[np.float64]]
) -> NDArray[np.float64]:
    """Return the overall desirability (n,) of means (n,), one array for each desire.

    The geometric mean, weighted by importance: 0 where one outcome is worth nothing.
    """
    each = np.vstack([one.of(m) for one, m in zip(desires, means, strict=True)])
    return overall(each, np.array([one.importance for one in desires]))


def usual_desire(outcome: Outcome, goal: Goal, means: NDArray[np.float64]) -> Desire | None:
    """Return the desirability that a requirement implies, over the means (n,) to choose from.

    Nothing at the limit; full at the target, or at the best mean there is to be had (the paper
    leaves both to the user: this is our convention, said where it is shown). A share of parts
    runs from the worst to the best there is. None where the means do not differ.
    """
    low, high = float(np.min(means)), float(np.max(means))
    if not high > low:
        return None
    limits = getattr(outcome, "requirement", None)
    asked_low = getattr(limits, "low", None)
    asked_high = getattr(limits, "high", None)
    if goal.better == TARGET and goal.target is not None:
        return _on_target(goal, asked_low, asked_high)
    if goal.better == LESS:
        worst = max(_number(asked_high, high), high)
        return Desire(outcome=goal.outcome, full_high=low, high=worst)
    worst = min(_number(asked_low, low), low)
    return Desire(outcome=goal.outcome, low=worst, full_low=high)


def _on_target(goal: Goal, low: object, high: object) -> Desire | None:
    target = goal.target
    if target is None:
        return None
    below = low if isinstance(low, float | int) and low < target else None
    above = high if isinstance(high, float | int) and high > target else None
    if below is None and above is None:
        return None
    return Desire(
        outcome=goal.outcome,
        low=below,
        full_low=None if below is None else target,
        full_high=None if above is None else target,
        high=above,
    )


def _number(limit: object, otherwise: float) -> float:
    """Return a numeric limit; that of grades is a word, and their mean is a share."""
    return float(limit) if isinstance(limit, float | int) else otherwise
