"""Plans and what happened to them as JSON objects; keys in `workbench.steps.answers`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.errors import Unavailable
from workbench.steps.json_values import number, unavailable, value, words

if TYPE_CHECKING:
    from workbench.run.checks import Happened
    from workbench.run.finding import Finding
    from workbench.steps.json_values import Json, JsonObject
    from workbench.steps.planning import OutcomePower, PlanAnswer


def plan_answer(answer: PlanAnswer) -> JsonObject:
    """Return the answer of `plan`."""
    made = answer.plan
    return {
        "plan": {
            "kind": made.recipe.kind,
            "runs": len(made),
            "parts_per_run": made.parts_per_run,
            "blocks": made.n_blocks,
            "resolution": made.recipe.resolution,
            "generators": words(made.recipe.generators),
            "options": dict(made.recipe.options),
            "seed": made.recipe.seed,
            "model": str(made.terms),
            "notes": words(made.recipe.notes),
        },
        "cannot_tell_apart": [
            {
                "term": str(one.term),
                "with": [{"term": str(t), "size": number(size)} for t, size in one.with_terms],
            }
            for one in answer.aliases
            if one.with_terms
        ],
        "power": {one.outcome.name: _power(one) for one in answer.power},
    }


def happened_answer(what: Happened) -> JsonObject:
    """Return what happened to the runs."""
    return {
        "n_planned": what.n_planned,
        "n_done": what.n_done,
        "n_failed": what.n_failed,
        "n_excluded": what.n_excluded,
        "missing": list(what.missing),
        "deviations": [
            {
                "run": int(one.run),
                "factor": one.factor,
                "planned": value(one.planned),
                "as_run": value(one.as_run),
                "in_setting_sd": number(one.in_sd),
            }
            for one in what.deviations
        ],
        "findings": [finding_answer(one) for one in what.findings],
        "notes": words(what.notes),
    }


def finding_answer(one: Finding) -> JsonObject:
    """Return one finding on what happened."""
    return {
        "kind": one.kind.value,
        "weight": one.weight.value,
        "runs": list(one.runs),
        "about": one.about,
        "sentence": one.sentence,
        "next_step": one.next_step,
    }


def _power(one: OutcomePower) -> Json:
    if isinstance(one.power, Unavailable):
        return unavailable(one.power.reason)
    return {
        "unit": one.outcome.unit,
        "effect": number(one.outcome.worth_finding),
        "sd": number(one.outcome.expected_sd),
        "terms": [
            {"term": str(p.term), "power": number(p.power), "error_df": number(p.error_df)}
            for p in one.power
        ],
    }
