"""Confirmations and verdicts as JSON objects.

`confirm`: `share`, `confidence`, `judged_by` (measure or counting), `parts` at all places, `seed`,
`places[]` (`name`, `settings`, `why`, `parts`, `failures_allowed`, `chance`, `assured_share`,
`failures_foreseen` low and high, `chance_to_confirm`, `outcomes.NAME`: `unit`, `requirement`,
`mean`, `mean_low`, `mean_high`, `new_part_low`, `new_part_high`, `parts_mean_low`,
`parts_mean_high`, `chance`), `interval_confidence`, `sittings[]`, `number[]`, `fewer[]`,
`digest`, `locked_at`, `locked_by`, `notes[]`.

`confirm --verdict`: `verdict` (holds, does not hold, too few parts to say), `share`,
`confidence`, `reasons[]`, `to_do[]`, `changed[]`, `notes[]`, `places[]` (`name`, `settings`,
`verdict`, `judged_by`, `planned`, `met`, `failed`, `lost`, `unknown`, `share_low`, `share_high`,
`share_at_least`, `by_measure`, `reasons[]`, `outcomes.NAME`: `unit`, counts, `mean`,
`mean_as_foreseen`, `sd`, `tolerance`, `index`).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.errors import Unavailable
from workbench.steps.json_values import number, unavailable, value, words

if TYPE_CHECKING:
    from workbench.decide.capability import Index
    from workbench.decide.confirmation import Foreseen, Place
    from workbench.decide.tolerance import ToleranceStatement
    from workbench.decide.verdict import SeenOutcome, SeenPlace, Tally, Verdict
    from workbench.decide.windows import NoWindow
    from workbench.files.confirmation_file import LockedConfirmation
    from workbench.steps.json_values import Json, JsonObject


def confirmation_answer(locked: LockedConfirmation) -> JsonObject:
    """Return the answer of `confirm`."""
    plan = locked.plan
    return {
        "share": plan.share,
        "confidence": plan.confidence,
        "judged_by": plan.judged_by.value,
        "parts": plan.n_parts,
        "seed": plan.seed,
        "places": [_place(one) for one in plan.places],
        "interval_confidence": plan.interval_confidence,
        "sittings": words(plan.sittings),
        "number": words(plan.number),
        "fewer": words(plan.fewer),
        "digest": locked.digest,
        "locked_at": plan.locked_at,
        "locked_by": plan.locked_by,
        "notes": words(plan.notes),
    }


def no_confirmation_answer(none: NoWindow) -> JsonObject:
    """Return the answer of `confirm` where there is no window."""
    return {
        "confirmation": unavailable(f"there is no window to confirm: {none.reason}"),
        "next_trial": {"words": none.next_trial},
    }


def verdict_answer(verdict: Verdict) -> JsonObject:
    """Return the answer of `confirm --verdict`."""
    return {
        "verdict": verdict.answer.value,
        "share": verdict.share,
        "confidence": verdict.confidence,
        "reasons": words(verdict.reasons),
        "to_do": words(verdict.to_do),
        "changed": words(verdict.changed),
        "places": [_seen_place(one) for one in verdict.places],
        "notes": words(verdict.notes),
    }


def _place(one: Place) -> JsonObject:
    return {
        "name": one.name,
        "settings": {name: value(at) for name, at in one.settings},
        "why": one.why,
        "parts": one.parts,
        "failures_allowed": one.failures_allowed,
        "chance": number(one.chance),
        "assured_share": number(one.assured_share),
        "failures_foreseen": [one.failures_low, one.failures_high],
        "chance_to_confirm": number(one.chance_to_confirm),
        "outcomes": {outcome.outcome: _foreseen(outcome) for outcome in one.outcomes},
    }


def _foreseen(one: Foreseen) -> JsonObject:
    return {
        "unit": one.unit,
        "requirement": one.requirement,
        "mean": number(one.mean),
        "mean_low": number(one.mean_low),
        "mean_high": number(one.mean_high),
        "new_part_low": number(one.new_part_low),
        "new_part_high": number(one.new_part_high),
        "parts_mean_low": number(one.parts_mean_low),
        "parts_mean_high": number(one.parts_mean_high),
        "chance": number(one.chance),
    }


def _seen_place(one: SeenPlace) -> JsonObject:
    return {
        "name": one.name,
        "settings": {name: value(at) for name, at in one.settings},
        "verdict": one.answer.value,
        "judged_by": one.judged_by.value,
        **_tally(one.tally),
        "share_low": number(one.share_low),
        "share_high": number(one.share_high),
        "share_at_least": number(one.share_at_least),
        "by_measure": number(one.by_measure),
        "reasons": words(one.reasons),
        "outcomes": {outcome.outcome: _seen(outcome) for outcome in one.outcomes},
    }


def _tally(one: Tally) -> JsonObject:
    return {
        "planned": one.planned,
        "met": one.met,
        "failed": one.failed,
        "lost": one.lost,
        "unknown": one.unknown,
    }


def _seen(one: SeenOutcome) -> JsonObject:
    as_foreseen = one.mean_as_foreseen
    told: Json = (
        unavailable(as_foreseen.reason) if isinstance(as_foreseen, Unavailable) else as_foreseen
    )
    return {
        "unit": one.unit,
        **_tally(one.tally),
        "mean": number(one.mean),
        "mean_as_foreseen": told,
        "sd": number(one.sd),
        "tolerance": _tolerance(one.tolerance),
        "index": _index(one.index),
    }


def _tolerance(one: ToleranceStatement | Unavailable) -> JsonObject:
    if isinstance(one, Unavailable):
        return unavailable(one.reason)
    return {
        "share": one.share,
        "confidence": one.confidence,
        "low": number(one.low),
        "high": number(one.high),
        "factor": number(one.factor),
        "n": one.n,
    }


def _index(one: Index | Unavailable) -> JsonObject:
    if isinstance(one, Unavailable):
        return unavailable(one.reason)
    return {
        "kind": "capability" if one.is_capability else "performance",
        "why": one.why,
        one.spread_name: number(one.spread),
        f"{one.spread_name}_low": number(one.spread_low),
        f"{one.spread_name}_high": number(one.spread_high),
        one.nearest_name: number(one.nearest),
        f"{one.nearest_name}_low": number(one.nearest_low),
        f"{one.nearest_name}_high": number(one.nearest_high),
        "confidence": one.confidence,
        "n": one.n,
    }
