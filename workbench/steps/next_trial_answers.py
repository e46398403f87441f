"""The next trial as a JSON object.

next
    obstacle, place, candidates[]: kind, recommended, why, reason, settles, runs[] (point,
        settings), ranges.FACTOR (low, high, unit), gain: outcome, error_before, error_after,
        margin, needed_before, needed_after (in residual sd)
    taken, runs, first_run, last_run, block, seed: what --take added to the plan
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.errors import Unavailable
from workbench.steps.json_values import number, unavailable, value

if TYPE_CHECKING:
    from workbench.decide.next_trial import Gain, NextTrial
    from workbench.steps.json_values import Json, JsonObject
    from workbench.steps.next_trial import NextAnswer, TakenRuns


def next_answer(found: NextAnswer) -> JsonObject:
    """Return the answer of `next`."""
    if isinstance(found.next, Unavailable):
        return {"candidates": unavailable(found.next.reason)}
    return {
        "obstacle": found.next.obstacle.value,
        "place": {name: value(at) for name, at in found.next.place},
        "candidates": [_trial(one) for one in found.next.trials],
    }


def taken_answer(taken: TakenRuns) -> JsonObject:
    """Return what was written when a candidate was taken."""
    return {
        "taken": str(taken.trial.kind),
        "runs": len(taken.trial),
        "first_run": taken.first_run,
        "last_run": len(taken.plan),
        "block": int(taken.plan.block[-1]),
        "seed": taken.seed,
    }


def _trial(one: NextTrial) -> JsonObject:
    return {
        "kind": str(one.kind),
        "recommended": one.recommended,
        "why": one.why,
        "reason": one.reason,
        "settles": one.settles,
        "runs": [
            {"point": point, "settings": {name: value(at) for name, at in row.items()}}
            for point, row in zip(one.point, one.runs.as_dicts(), strict=True)
        ],
        "gain": _gain(one.gain),
        "ranges": {
            moved.factor: {
                "low": number(moved.low),
                "high": number(moved.high),
                "unit": moved.unit,
            }
            for moved in one.ranges
        },
    }


def _gain(one: Gain | Unavailable) -> Json:
    if isinstance(one, Unavailable):
        return unavailable(one.reason)
    return {
        "outcome": one.outcome,
        "error_before": number(one.error_before),
        "error_after": number(one.error_after),
        "margin": number(one.margin),
        "needed_before": number(one.needed_before),
        "needed_after": number(one.needed_after),
    }
