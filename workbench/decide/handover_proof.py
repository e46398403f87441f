"""Whether the verdict of a confirmation stands behind a window, and what that means."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from workbench.decide.handover import Proof
from workbench.decide.verdict import Answer
from workbench.define.factors import Categorical

if TYPE_CHECKING:
    from workbench.decide.verdict import SeenPlace, Verdict
    from workbench.decide.windows import Limit, Window
    from workbench.define.settings import Value

OF_RANGE = 1e-6  # settings closer than this part of a factor's range are the same


def proof_of(window: Window, verdict: Verdict | None) -> Proof:
    """Return what the verdict proves of this window.

    It proves it only if parts were made at this window's set point, and every place lies inside
    it, for a share and a confidence no lower than the window's, and nothing that it rests on was
    changed since.
    """
    if verdict is None:
        return Proof.NONE
    if not _is_of(window, verdict):
        return Proof.OTHER
    if verdict.changed:
        return Proof.CHANGED
    return Proof.CONFIRMED if verdict.answer is Answer.HOLDS else Proof.OPEN


def refuted_at(window: Window, verdict: Verdict | None) -> tuple[str, ...]:
    """Return the places inside this window at which parts have shown that it does not hold."""
    if verdict is None or verdict.share > window.share:
        return ()
    return tuple(
        one.name
        for one in verdict.places
        if one.answer is Answer.FAILS and _is_inside(one, window)
    )


def standing_words(proof: Proof, window: Window) -> str:
    """Return in a sentence whether the limits may be used, and what comes next if not."""
    asked = f"{100 * window.share:g} of 100 parts with {100 * window.confidence:g} % confidence"
    match proof:
        case Proof.CONFIRMED:
            return f"Confirmed by fresh parts: each place that was built shows {asked}."
        case Proof.OPEN:
            return (
                "Not confirmed: the parts of the confirmation are too few to say whether the "
                "window holds. Make the parts that are missing before the limits are released."
            )
        case Proof.OTHER:
            return (
                "Not confirmed: the confirmation was made for other settings, a lower share or a "
                "lower confidence. Plan and build one for this window before it is released."
            )
        case Proof.CHANGED:
            return (
                "Not confirmed: what the confirmation rests on was changed after its predictions "
                "were locked (the evidence says what). Put it back, or confirm anew."
            )
        case Proof.NONE:
            return (
                "Not confirmed: the limits are foreseen from the trial, and no fresh part has "
                "been held against them. Confirm them before they are released."
            )


def _is_of(window: Window, verdict: Verdict) -> bool:
    if verdict.share < window.share or verdict.confidence < window.confidence:
        return False
    at_point = any(_is_at_set_point(one, window) for one in verdict.places)
    return at_point and all(_is_inside(one, window) for one in verdict.places)


def _is_at_set_point(place: SeenPlace, window: Window) -> bool:
    settings = dict(place.settings)
    numeric = all(
        _is_same(settings.get(one.factor.name), one.set_point, one) for one in window.limits
    )
    return numeric and _same_levels(settings, window)


def _is_inside(place: SeenPlace, window: Window) -> bool:
    settings = dict(place.settings)
    return _same_levels(settings, window) and all(
        _is_between(settings.get(one.factor.name), one) for one in window.limits
    )


def _same_levels(settings: dict[str, Value], window: Window) -> bool:
    return all(settings.get(name) == level for name, level in window.levels)


def _is_same(value: Value | None, wanted: float, limit: Limit) -> bool:
    return isinstance(value, float | int) and math.isclose(
        value, wanted, rel_tol=0, abs_tol=_slack(limit)
    )


def _is_between(value: Value | None, limit: Limit) -> bool:
    if not isinstance(value, float | int):
        return False
    return limit.low - _slack(limit) <= value <= limit.high + _slack(limit)


def _slack(limit: Limit) -> float:
    factor = limit.factor
    return 0.0 if isinstance(factor, Categorical) else OF_RANGE * (factor.high - factor.low)
