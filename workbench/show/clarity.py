"""How an effect stands: clear, open, or too small to matter; read off its interval alone."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from workbench.define.outcomes import Measured
from workbench.errors import Unavailable
from workbench.fit.measured import MeasuredFit

if TYPE_CHECKING:
    from workbench.define.outcomes import Outcome
    from workbench.fit.faces import Fit
    from workbench.fit.nouns import Effect, Estimate, PseudoError

NO_PSEUDO_ERROR = Unavailable(reason="only least squares has a pseudo standard error")


class Clarity(StrEnum):
    """What the interval of an effect says.

    `clear`: it excludes no change. `small`: all of it lies within what is too small to matter.
    `open`: neither.
    """

    CLEAR = "clear"
    OPEN = "open"
    SMALL = "small"


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone:
    """Ends between which a change is too small to matter, in the unit of the effects."""

    low: float
    high: float


def zone(outcome: Outcome) -> Zone | None:
    """Return the zone of changes too small to matter; None if nobody said what is worth finding.

    On the inverse and square-root scales effects are not in the outcome's unit, and odds and
    rates have none, so what is worth finding cannot be drawn beside them.
    """
    if not isinstance(outcome, Measured):
        return None
    worth = outcome.worth_finding
    if worth is None or outcome.scale in ("inverse", "square root"):
        return None
    return Zone(low=1 / worth if outcome.scale == "log" else -worth, high=worth)


def no_change(effect: Effect) -> float:
    """Return the value that means no change: 1 for a ratio, 0 for a difference."""
    return 1.0 if effect.is_ratio else 0.0


def clarity(effect: Effect, fit: Fit) -> Clarity:
    """Return how an effect stands in its fit."""
    if isinstance(effect.estimate, Unavailable):
        return _by_pseudo_error(effect, fit)
    if is_small(effect.estimate, fit.outcome):
        return Clarity.SMALL
    low, high = effect.estimate.low, effect.estimate.high
    nothing = no_change(effect)
    return Clarity.CLEAR if low > nothing or high < nothing else Clarity.OPEN


def is_small(estimate: Estimate, outcome: Outcome) -> bool:
    """Return whether the whole interval of an effect lies within what is too small to matter."""
    small = zone(outcome)
    return small is not None and small.low <= estimate.low and estimate.high <= small.high


def pseudo_error(fit: Fit) -> PseudoError | Unavailable:
    """Return Lenth's pseudo standard error, which only least squares has."""
    return fit.pseudo_error if isinstance(fit, MeasuredFit) else NO_PSEUDO_ERROR


def has_error(fit: Fit) -> bool:
    """Return whether the fit knows how sure it is of any effect."""
    if isinstance(fit, MeasuredFit):
        return not isinstance(fit.residual_variance, Unavailable)
    return any(not isinstance(one.estimate, Unavailable) for one in fit.effects)


def is_on_ratio(fit: Fit) -> bool:
    """Return whether the effects of a fit are ratios, drawn by how often they multiply."""
    on_log = isinstance(fit.outcome, Measured) and fit.outcome.scale == "log"
    return on_log or any(one.is_ratio for one in fit.effects)


def _by_pseudo_error(effect: Effect, fit: Fit) -> Clarity:
    found = pseudo_error(fit)
    if isinstance(found, Unavailable):
        return Clarity.OPEN
    named = {effect.name, str(effect.term)}
    return Clarity.CLEAR if named & set(found.standing_out) else Clarity.OPEN
