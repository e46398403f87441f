"""Answers of `fit` for outcomes that are no plain measured ones: the same keys, and their own.

Beside the keys of every outcome (see `answers`):
    model_sentence: which model it is, and why
    n_rows: rows of the model where parts are rows of their own
    facts.NAME: value, unit, words; low and high (95 %) where the number is an estimate
    variance_components.LEVEL: value, low, high, levels, below_zero
    largest_residual: run, value, kind
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import Unavailable
from workbench.fit.nouns import Estimate
from workbench.steps.json_values import number

if TYPE_CHECKING:
    from workbench.fit.outcome_model import Fact, OutcomeModel, VarianceComponent
    from workbench.steps.json_values import JsonObject


def own_keys(fit: OutcomeModel) -> JsonObject:
    """Return what a model of another kind has beside the keys of every outcome."""
    return {
        "n_rows": int(fit.run.size),
        "variance_components": {one.level: _component(one) for one in fit.scatter},
        "facts": {one.name: _fact(one) for one in fit.facts},
        "largest_residual": _largest_residual(fit),
    }


def _component(one: VarianceComponent) -> JsonObject:
    return {
        "value": number(one.value),
        "low": number(one.low),
        "high": number(one.high),
        "levels": one.n_levels,
        "below_zero": one.below_zero,
    }


def _fact(one: Fact) -> JsonObject:
    value = one.value
    answer: JsonObject = {
        "value": number(value.value if isinstance(value, Estimate) else value),
        "unit": one.unit,
        "words": one.words,
    }
    if isinstance(value, Estimate):
        answer |= {"low": number(value.low), "high": number(value.high)}
    return answer


def _largest_residual(fit: OutcomeModel) -> JsonObject:
    if fit.checks.residual.size == 0:
        return {"unavailable": "no residual of this model has a meaning"}
    place = int(np.argmax(np.abs(fit.checks.residual)))
    return {
        "run": int(fit.checks.row_run[place]),
        "value": number(float(fit.checks.residual[place])),
        "kind": fit.checks.residual_kind,
    }


def scatter_words(fit: OutcomeModel) -> tuple[str, ...]:
    """Return each variance component in words, with its limits where they are known."""
    return tuple(_component_words(one) for one in fit.scatter)


def _component_words(one: VarianceComponent) -> str:
    size = "0 (estimate below zero)" if one.below_zero else f"{one.value:.4g}"
    if isinstance(one.low, Unavailable) or isinstance(one.high, Unavailable):
        return f"variance between levels of {one.level}: {size}"
    return (
        f"variance between levels of {one.level}: {size} (95 % {one.low:.3g} to {one.high:.3g}, "
        f"{one.n_levels} levels)"
    )
