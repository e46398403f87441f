"""Candidate plans as one JSON object; keys in `workbench.steps.answers`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.errors import Unavailable
from workbench.plan.candidate_nouns import REGION_SHARE
from workbench.steps.json_values import number, unavailable, words
from workbench.steps.margins import margin_of

if TYPE_CHECKING:
    from workbench.plan.candidate_nouns import Candidate, Detects, Leaning
    from workbench.plan.margin import Margin
    from workbench.plan.power import Detectable
    from workbench.steps.choosing import Choice
    from workbench.steps.json_values import Json, JsonObject


def choice_answer(choice: Choice) -> JsonObject:
    """Return the answer of `candidates`."""
    found = choice.comparison
    return {
        "model": found.asked,
        "model_is_assumed": found.is_assumed,
        "alpha": found.alpha,
        "chance": found.chance,
        "candidates": [
            _candidate(one) | {"margin": _margin(margin_of(choice.trial, one.plan))}
            for one in found.candidates
        ],
        "left_out": [{"name": name, "reason": reason} for name, reason in found.left_out],
    }


def nothing_fits_answer(reason: str) -> JsonObject:
    """Return the answer of `candidates` where no plan fits."""
    return {"candidates": unavailable(reason)}


def _candidate(one: Candidate) -> JsonObject:
    return {
        "name": one.name,
        "kind": one.plan.recipe.kind,
        "runs": len(one.plan),
        "parts": one.parts,
        "resets": one.resets,
        "days": number(one.days),
        "cost": number(one.cost),
        "carries": one.carries,
        "error_df": one.error_df,
        "detectable": _first(one),
        "outcomes": _outcomes(one),
        "cannot_tell_apart": [words([str(t) for t in group]) for group in one.mixing.groups],
        "leaning": _leaning(one.leaning),
        "precision": {
            "standard_error_in_sd": number(one.standard_error),
            "share_of_region": REGION_SHARE,
        },
        "gives_up": one.gives_up,
        "recommended": one.recommended,
        "why": one.why,
    }


def _margin(found: Margin | Unavailable | None) -> Json:
    if found is None:
        return None
    if isinstance(found, Unavailable):
        return unavailable(found.reason)
    return {
        "share": found.share,
        "confidence": found.confidence,
        "needed_in_sd": number(found.needed),
        "if_known_in_sd": number(found.if_known),
        "error_df": found.error_df,
    }


def _first(one: Candidate) -> Json:
    if isinstance(one.detects, Unavailable):
        return unavailable(one.detects.reason)
    return _sizes(one.detects[0].terms)


def _outcomes(one: Candidate) -> Json:
    if isinstance(one.detects, Unavailable):
        return unavailable(one.detects.reason)
    return {detects.aim.outcome: _detects(detects) for detects in one.detects}


def _detects(detects: Detects) -> JsonObject:
    aim = detects.aim
    return {
        "unit": aim.unit,
        "is_ratio": aim.as_ratio,
        "sd": number(aim.sd),
        "worth_finding": number(aim.worth_finding),
        "finds": detects.finds,
        "detectable": _sizes(detects.terms),
    }


def _sizes(terms: tuple[Detectable, ...]) -> JsonObject:
    return {str(one.term): number(one.difference) for one in terms}


def _leaning(found: Leaning | None) -> Json:
    if found is None:
        return None
    return {
        "main_effect": str(found.main_effect),
        "of": str(found.left_out),
        "size": number(found.size),
    }
