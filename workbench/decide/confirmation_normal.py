"""A measured outcome at one place as a normal scatter, as far as a number of parts needs it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import ndtri

from workbench.errors import Unavailable
from workbench.fit.requirement_on_scale import requirement_on_scale
from workbench.fit.scales import off_scale, on_scale
from workbench.numerics.tolerance_factors import (
    beyond_at_most,
    chance_beyond_factor,
    factor_seen,
    one_sided_factor,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.define.outcomes import Measured
    from workbench.fit.faces import Prediction

BELOW, ABOVE = -1, 1
PESSIMIST = 0.1  # allowances are made for samples that put a limit nearer than nine in ten do
LEAST_PART = 0.01  # of the whole allowance: what a limit far away still gets
DIGITS = 7  # allowances are written down so, rounded towards less


@dataclass(frozen=True, slots=True, kw_only=True)
class NormalAt:
    """Centre, and half widths of the intervals of mean and new part, on the outcome's scale."""

    outcome: Measured
    centre: float
    mean_half: float
    part_half: float
    confidence: float

    @property
    def sd(self) -> float:
        """Standard deviation of a new part about the centre, what is not known included."""
        return self.part_half / float(ndtri((1 + self.confidence) / 2))

    def parts_mean(self, n: int) -> tuple[float, float] | Unavailable:
        """Return the ends, in the outcome's unit, in which the mean of n new parts will lie."""
        scatter = max(self.part_half**2 - self.mean_half**2, 0.0)
        half = math.sqrt(self.mean_half**2 + scatter / n)
        ends = off_scale(np.array([self.centre - half, self.centre + half]), self.outcome.scale)
        if not np.isfinite(ends).all():
            return Unavailable(reason=f"on the {self.outcome.scale} scale it has no end")
        return float(ends.min()), float(ends.max())


def normal_at(outcome: Measured, prediction: Prediction) -> NormalAt | Unavailable:
    """Return the normal scatter behind a prediction at one point."""
    low, high = prediction.new_part_low, prediction.new_part_high
    if isinstance(low, Unavailable) or isinstance(high, Unavailable):
        return Unavailable(reason=f"a single part of {outcome.name} has no interval")
    ends = np.array([low[0], high[0], prediction.mean_low[0], prediction.mean_high[0]])
    if outcome.scale != "as read" and (ends <= 0).any():
        return Unavailable(reason=f"{outcome.name} is foreseen down to zero")
    scaled = on_scale(ends, outcome.scale)
    if not np.isfinite(scaled).all():
        return Unavailable(reason=f"the interval of {outcome.name} has no end")
    return NormalAt(
        outcome=outcome,
        centre=float(scaled[2] + scaled[3]) / 2,
        mean_half=abs(float(scaled[3] - scaled[2])) / 2,
        part_half=abs(float(scaled[1] - scaled[0])) / 2,
        confidence=prediction.confidence,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Margin:
    """A limit (side −1: parts fall below it, +1: above) and its distance from the mean in sd."""

    outcome: str
    side: int
    in_sd: float


def margins(one: NormalAt) -> tuple[Margin, ...]:
    """Return the distance of each limit from the foreseen mean."""
    return tuple(
        Margin(outcome=one.outcome.name, side=side, in_sd=distance / one.sd)
        for side, distance in limit_distances(one.outcome, one.centre)
    )


def limit_distances(outcome: Measured, centre: float) -> tuple[tuple[int, float], ...]:
    """Return each limit's side, as the outcome is read, and distance inwards on its scale."""
    limits = requirement_on_scale(outcome)
    if isinstance(limits, Unavailable):
        return ()
    low_side, high_side = (ABOVE, BELOW) if limits.turned else (BELOW, ABOVE)
    found = ((low_side, centre - limits.low), (high_side, limits.high - centre))
    return tuple((side, distance) for side, distance in found if math.isfinite(distance))


@dataclass(frozen=True, slots=True, kw_only=True)
class Allowance:
    """Part of all parts that may lie beyond one limit."""

    outcome: str
    side: int
    part: float


def allowances(
    found: Sequence[Margin], n: int, *, share: float, confidence: float
) -> tuple[Allowance, ...]:
    """Share out 1 − share over the limits, most to the nearest, before any part is made.

    With these fixed, "less than its allowance lies beyond" at every limit is what has to be
    shown, each at full confidence: if more than 1 − share fail in all, some limit is overdrawn.
    """
    expected = [
        beyond_at_most(factor_seen(one.in_sd, n, chance=PESSIMIST), n, confidence=confidence)
        for one in found
    ]
    least = max(LEAST_PART * max(expected), 1e-9)
    weights = np.maximum(expected, least)
    parts = np.floor((1 - share) * weights / weights.sum() * 10**DIGITS) / 10**DIGITS
    return tuple(
        Allowance(outcome=one.outcome, side=one.side, part=max(float(part), 10.0**-DIGITS))
        for one, part in zip(found, parts, strict=True)
    )


def chance_by_measure(
    found: Sequence[Margin], allowed: Sequence[Allowance], n: int, *, confidence: float
) -> float:
    """Return a lower bound of the chance that n parts show every allowance to be kept."""
    missed = 0.0
    for margin, allowance in zip(found, allowed, strict=True):
        factor = one_sided_factor(n, 1 - allowance.part, confidence=confidence)
        missed += 1 - chance_beyond_factor(factor, margin.in_sd, n)
    return max(0.0, 1 - missed)
