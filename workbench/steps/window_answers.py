"""Windows as JSON objects; the keys stand in the table of `workbench.steps.answers`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.decide.windows import NoWindow
from workbench.errors import Unavailable
from workbench.steps.json_values import number, unavailable, value, words

if TYPE_CHECKING:
    from workbench.decide import AssuranceCurve, WhatIf
    from workbench.decide.windows import Decision, NearestMiss, Window
    from workbench.steps.json_values import Json, JsonObject
    from workbench.steps.windows import WindowAnswer


def curve_answer(found: AssuranceCurve | Unavailable) -> JsonObject:
    """Return the answer of `window --curve`."""
    if isinstance(found, Unavailable):
        return {"assurance_curve": unavailable(found.reason)}
    points: list[Json] = [
        {
            "confidence": one.confidence,
            "volume": number(one.volume),
            "limits": {} if isinstance(one.window, NoWindow) else _limits(one.window),
            "window": unavailable(one.window.reason) if isinstance(one.window, NoWindow) else None,
        }
        for one in found.points
    ]
    return {"assurance_curve": {"share": found.share, "asked": found.asked, "points": points}}


def what_if_answer(found: WhatIf | Unavailable) -> JsonObject:
    """Return the answer of `window --what-if`."""
    if isinstance(found, Unavailable):
        return {"what_if": unavailable(found.reason)}
    levers: list[Json] = [
        {
            "change": one.change,
            "about": one.about,
            "times": unavailable(one.times.reason)
            if isinstance(one.times, Unavailable)
            else number(one.times),
            "volume": 0.0 if isinstance(one.window, NoWindow) else number(one.window.volume),
            "limits": {} if isinstance(one.window, NoWindow) else _limits(one.window),
        }
        for one in found.levers
    ]
    base = 0.0 if isinstance(found.base, NoWindow) else number(found.base.volume)
    return {
        "what_if": {
            "volume": base,
            "levers": levers,
            "sentence": found.sentence,
            "notes": words(found.notes),
        }
    }


def window_answer(found: WindowAnswer) -> JsonObject:
    """Return the answer of `window`."""
    answer = _either(found.best)
    answer["accepted_straight"] = found.accepted or None
    if isinstance(found.decision, NoWindow):
        return answer
    return answer | _beside(found.decision)


def _beside(decision: Decision) -> JsonObject:
    return {
        "if_right": _either(decision.if_right),
        "by_level": [
            {"levels": dict(levels), **_either(one)} for levels, one in decision.by_level
        ],
    }


def _either(one: Window | NoWindow) -> JsonObject:
    return _no_window(one) if isinstance(one, NoWindow) else _window(one)


def _limits(one: Window) -> JsonObject:
    return {
        limit.factor.name: {
            "low": number(limit.low),
            "high": number(limit.high),
            "unit": limit.factor.unit,
            "limited_by_low": limit.limited_by_low,
            "limited_by_high": limit.limited_by_high,
        }
        for limit in one.limits
    }


def _window(one: Window) -> JsonObject:
    return {
        "share": one.share,
        "confidence": one.confidence,
        "set_point": {name: value(at) for name, at in one.set_point().items()},
        "limits": _limits(one),
        "levels": dict(one.levels),
        "held": {name: number(at) for name, at in one.held},
        "chance_at_set_point": number(one.chance_at_set_point),
        "lowest_share": number(one.lowest_share),
        "volume": number(one.volume),
        "size_in": one.size_in,
        "model_form": number(one.model_form),
        "seed": one.seed,
        "n_draws": one.n_draws,
        "notes": words(one.notes),
    }


def _no_window(one: NoWindow) -> JsonObject:
    miss: Json = (
        unavailable("no point was judged") if one.nearest_miss is None else _miss(one.nearest_miss)
    )
    return {
        "share": one.share,
        "confidence": one.confidence,
        "window": unavailable(one.reason),
        "nearest_miss": miss,
        "next_trial": {"words": one.next_trial},
        "notes": words(one.notes),
    }


def _miss(one: NearestMiss) -> JsonObject:
    return {
        "settings": {name: value(at) for name, at in one.settings},
        "chance": number(one.chance),
        "assured_share": number(one.assured_share),
        "limited_by": one.limited_by,
    }
