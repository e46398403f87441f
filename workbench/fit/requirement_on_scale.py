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

    A limit at or below zero on a scale of values above zero is met by every part (low) or by
    none (high).
    """
    if outcome.requirement is None:
        return Unavailable(
            reason=f"{outcome.name} has no requirement; state at_least, at_most, between or a "
            "target with its tolerance"
        )
    low, high = outcome.requirement.low, outcome.requirement.high
    turned = turns_round(outcome.scale)
    ends = sorted(
        (
            _end(low, outcome.scale, open_end=np.inf if turned else -np.inf),
            _end(high, outcome.scale, open_end=-np.inf if turned else np.inf),
        )
    )
    return LimitsOnScale(low=ends[0], high=ends[1], turned=turned)


def _end(limit: float | None, scale: str, *, open_end: float) -> float:
    if limit is None:
        return open_end
    if scale == "as read" or limit > 0:
        return float(on_scale(np.array([limit]), scale)[0])
    return np.inf if turns_round(scale) else -np.inf
