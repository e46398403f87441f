"""Set points and the trade-off front as JSON objects.

setpoint
    goals[], set_points[]: name, why, settings, chance, assured_share, desirability (of one),
        outcomes.NAME: unit, mean, mean_low, mean_high, new_part_low, new_part_high (95 %)
    front[]: settings that no other beats in every goal: settings, means, in_window
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.errors import Unavailable
from workbench.steps.json_values import number, unavailable, value

if TYPE_CHECKING:
    from workbench.decide.set_points import Foreseen, SetPoint
    from workbench.decide.trade_off import Front
    from workbench.steps.json_values import Json, JsonObject
    from workbench.steps.set_points import SetPointAnswer


def set_point_answer(found: SetPointAnswer) -> JsonObject:
    """Return the answer of `setpoint`."""
    points: Json = (
        unavailable(found.points.reason)
        if isinstance(found.points, Unavailable)
        else [_point(one) for one in found.points]
    )
    return {
        "goals": [one.words() for one in found.goals],
        "set_points": points,
        "front": _front(found.front),
    }


def _point(one: SetPoint) -> JsonObject:
    return {
        "name": one.name,
        "why": one.why,
        "settings": {name: value(at) for name, at in one.settings},
        "chance": number(one.chance),
        "assured_share": number(one.assured),
        "desirability": number(one.overall),
        "outcomes": {
            seen.outcome: _foreseen(seen)
            for seen in one.foreseen
            if not isinstance(seen, Unavailable)
        },
    }


def _foreseen(seen: Foreseen) -> JsonObject:
    return {
        "unit": seen.unit,
        "mean": number(seen.mean),
        "mean_low": number(seen.mean_low),
        "mean_high": number(seen.mean_high),
        "new_part_low": number(seen.new_part_low),
        "new_part_high": number(seen.new_part_high),
    }


def _front(one: Front | Unavailable) -> Json:
    if isinstance(one, Unavailable):
        return unavailable(one.reason)
    names = [goal.outcome for goal in one.goals]
    return [
        {
            "settings": {name: value(at) for name, at in row.items()},
            "means": {name: number(float(mean)) for name, mean in zip(names, means, strict=True)},
            "in_window": bool(inside),
        }
        for row, means, inside in zip(
            one.settings.as_dicts(), one.means, one.in_window, strict=True
        )
    ]
