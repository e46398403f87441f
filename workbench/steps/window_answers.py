"""Windows as JSON objects; the keys stand in the table of `workbench.steps.answers`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.decide.windows import NoWindow
from workbench.steps.json_values import number, unavailable, value, words

if TYPE_CHECKING:
    from workbench.decide.windows import Decision, NearestMiss, Window
    from workbench.steps.json_values import Json, JsonObject
    from workbench.steps.windows import WindowAnswer


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


def _window(one: Window) -> JsonObject:
    limits: JsonObject = {
        limit.factor.name: {
            "low": number(limit.low),
            "high": number(limit.high),
            "unit": limit.factor.unit,
            "limited_by_low": limit.limited_by_low,
            "limited_by_high": limit.limited_by_high,
        }
        for limit in one.limits
    }
    return {
        "share": one.share,
        "confidence": one.confidence,
        "set_point": {name: value(at) for name, at in one.set_point().items()},
        "limits": limits,
        "levels": dict(one.levels),
        "chance_at_set_point": number(one.chance_at_set_point),
        "lowest_share": number(one.lowest_share),
        "volume": number(one.volume),
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
