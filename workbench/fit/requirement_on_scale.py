"""A requirement taken to the scale of the model."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import Unavailable
from workbench.fit.scales import on_scale, turns_round

if TYPE_CHECKING:
    from workbench.define.outcomes import Measured


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitsOnScale:
    """Limits on the model's scale (−inf or inf: open); `turned` if low and high changed places."""

    low: float
    high: float
    turned: bool


def requirement_on_scale(outcome: Measured) -> LimitsOnScale | Unavailable:
    """Return the limits of an outcome on its scale; Unavailable if it has no requirement.

    Below zero a square root stands for an outcome of 0, so a low limit of 0 is met by all.
    """
    if outcome.requirement is None:
        return Unavailable(
            reason=f"{outcome.name} has no requirement; state at_least, at_most, between or a "
            "target with its tolerance"
        )
    scale, turned = outcome.scale, turns_round(outcome.scale)
    low, high = outcome.requirement.low, outcome.requirement.high
    lowest = -np.inf if low is None or (low == 0 and scale == "square root") else _at(low, scale)
    highest = np.inf if high is None else _at(high, scale)
    if turned:
        return LimitsOnScale(
            low=-np.inf if high is None else highest,
            high=np.inf if low is None else lowest,
            turned=True,
        )
    return LimitsOnScale(low=lowest, high=highest, turned=False)


def _at(limit: float, scale: str) -> float:
    return float(on_scale(np.array([limit]), scale)[0])
