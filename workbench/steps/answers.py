"""Answers as JSON objects: what every command prints with `--json`.

One object on standard output; numbers at full precision in natural units, the unit beside them;
an answer that cannot be had is `{"unavailable": "reason"}`. Keys are stable.

fit
    outcomes.NAME: one object for each outcome, `{"unavailable": …}` where there is no model:
    kind, unit, scale, model, uses: kind of outcome, its unit, scale of the model, the terms, and
        whether settings are `as-run` or `planned`
    n_runs, n_excluded, error_df: runs used, runs left out by hand, degrees of freedom of error
    residual_sd, r_squared, adjusted_r_squared, predicted_r_squared: scatter of a run about the
        model on its scale; shares of the variation
    variance_components.NAME: `run_mean` and, with several parts a run, `part`: value, low, high
        (95 %), df
    terms[]: term, scale (coded or natural), estimate, std_error, low, high, df, statistic, p
    tests[]: term, df, error_df, sum_of_squares, mean_square, statistic, p, stratum; each adjusted
        for all other terms
    tests_without_products[]: the same keys, each adjusted for the terms that do not contain it;
        empty where no term contains another
    effects[]: effect_of, size, unit, is_ratio, from_to, low, high, std_error, df, p
    lack_of_fit: df, pure_error_df, mean_square, pure_error_mean_square, statistic, p
    pseudo_error (Lenth): value, n_effects, standing_out[]; margin, simultaneous_margin by
        simulated critical values; margin_by_t, simultaneous_margin_by_t as printed in 1989
    cannot_tell_apart[], aliased_lines[]: terms that share one number; the sum that it is
    crossing[]: along, between, levels, value, unit, low, high (95 %), inside_range
    power_family: best, low, high (Box and Cox, 95 %)
    scale_checks[]: scale, and p by term of the same model on that scale
    largest_leverage: run, value
    with_excluded: where runs are excluded, the same model with them counted in: n_runs, error_df,
        residual_sd, effects, tests, tests_without_products
    reading, notes[]: what the fit says, and what it cannot tell, in sentences
    happened: n_planned, n_done, n_failed, n_excluded, missing[], deviations[] (run, factor,
        planned, as_run, in_setting_sd), findings[] (kind, weight: note, ask or check; runs[],
        about: a factor or outcome; sentence, next_step), notes[]
predict
    confidence: of the intervals
    points[]: settings, inside_region, outcomes.NAME: unit, mean, mean_low, mean_high,
        new_part_low, new_part_high, chance, leverage, inside_region
window
    share, confidence: as asked for
    set_point, limits.FACTOR: low, high, unit, limited_by_low, limited_by_high
    levels, chance_at_set_point, lowest_share, volume: categories of the box, chance at the set
        point, share assured in the box, part of the region tried that it takes
    model_form, seed, n_draws, notes[], accepted_straight: what the promise rests on
    held, size_in: numeric factors held at a value; unit of the sides in `volume` ("range" or
        "setting error")
    assurance_curve (with --curve): share, asked, points[] (confidence, volume, limits.FACTOR,
        window: null, or unavailable with the reason for none)
    what_if (with --what-if): volume as things are, levers[] (change, about: a factor or outcome,
        times as large, volume, limits.FACTOR), sentence, notes[]
    if_right, by_level[]: the window if the model form is exactly right; one for each combination
        of levels
    window, nearest_miss, next_trial: instead of limits where there is no window: the reason; the
        best point with settings, chance, assured_share, limited_by; what to run next in words
setpoint, next, attach, take --confirm-zero: see set_point_answers, next_trial_answers, attaching,
    true_zeros.
handover
    confirmed, standing, promise, share, confidence: whether a confirmation stands behind the
        window, and what the window is to keep
    settings.NAME: set_point, low, high, unit, steps[] (all that can be set), setting_sd,
        below_low, above_high: what is met beyond each end
    keep[], do[], look_for[] (sign, reading, comes_with[]), stop_if[]: the work instruction
    control_plan[]: characteristic, checked (setting or requirement), specification, method,
        sample, frequency, reaction; null where people fill it in
    assured.NAME: requirement, chance, lowest; `all together` for every requirement
    evidence.CHAPTER: says, facts[] (what, found); not_tested[], files[]
    handover, next_step: instead of all this where nothing is handed over: the reason; what next
candidates
    model, model_is_assumed, alpha, chance: the model asked for (assumed where trial.toml states
        none), level of the test and chance of the detectable differences
    candidates[]: name, kind, runs, parts, resets, days, cost: what a plan is and what it takes
        carries, error_df: the richest model it tells apart, and runs left for error
        margin: needed_in_sd, if_known_in_sd, share, confidence, error_df: how far within its
            limit a mean must lie, in sd of a part, to give a window at all; null if not asked
        detectable.TERM: difference found, for the first outcome whose scatter is known
        outcomes.NAME: unit, is_ratio, sd, worth_finding, finds (every main effect worth
            finding; null if nobody said), detectable.TERM
        cannot_tell_apart[]: lists of products and squares, or main effects, that are one number
        leaning: main_effect, of, size: the most that a left-out product or square adds to a main
            effect, in coded units; null if nothing does
        precision: standard_error_in_sd of the mean, not exceeded in share_of_region
        gives_up, recommended, why: in sentences
    left_out[]: name, reason: plans that were looked at and do not fit
plan
    plan: kind, runs, parts_per_run, blocks, resolution, generators[], options, seed, model,
        notes[]
    cannot_tell_apart[]: term, with[] (term, and size in coded units with its sign)
    power.NAME: unit, effect, sd, terms[] (term, power, error_df)
check
    sound: whether nothing must be mended
    mend[], notes[]: place, wrong, why, next_step
    happened[]: kind, weight (note, ask or check), about, runs[], sentence, next_step
    looked_at[]: files of the trial that were found
export
    folder, files[], rows, columns: where, which files, and the size and headings of readings.csv
take, adopt
    receipt[]: where, met, understood, sure
    rows, columns: how many rows were taken, and the columns met
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import Unavailable
from workbench.fit.measured import MeasuredFit
from workbench.fit.outcome_model import OutcomeModel
from workbench.fit.reading import reading
from workbench.fit.without_products import tests_without_products
from workbench.numerics.variance_limits import variance_limits
from workbench.steps.json_values import number, unavailable, words
from workbench.steps.model_answers import own_keys

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from workbench.fit.crossings import Crossing
    from workbench.fit.faces import Fit
    from workbench.fit.nouns import Coefficient, Effect, TermTest
    from workbench.run.receipt import Receipt
    from workbench.steps.fitting import OutcomeFit
    from workbench.steps.json_values import Json, JsonObject
    from workbench.steps.predicting import OutcomePrediction, Predictions

CONFIDENCE = 0.95


def as_text(answer: JsonObject, *, ascii_only: bool = False) -> str:
    """Return one JSON object as text; NaN and infinity have no place in it."""
    return json.dumps(answer, ensure_ascii=ascii_only, allow_nan=False, indent=2)


def fit_answer(fits: Sequence[OutcomeFit]) -> JsonObject:
    """Return the answer of `fit`."""
    return {"outcomes": {one.outcome.name: _outcome(one) for one in fits}}


def predict_answer(predictions: Predictions) -> JsonObject:
    """Return the answer of `predict`, one object for each point."""
    rows = predictions.settings.as_dicts()
    return {
        "confidence": predictions.confidence,
        "points": [
            {
                "settings": dict(row),
                "outcomes": {
                    one.fitted.outcome.name: _point(one, i) for one in predictions.outcomes
                },
                "inside_region": _inside(predictions, i),
            }
            for i, row in enumerate(rows)
        ],
    }


def receipt_answer(receipt: Receipt) -> JsonObject:
    """Return the answer of `take` and `adopt`."""
    return {
        "receipt": [
            {"where": one.where, "met": one.met, "understood": one.understood, "sure": one.sure}
            for one in receipt.lines
        ],
        "rows": receipt.n_rows,
        "columns": words(receipt.columns),
    }


def _outcome(one: OutcomeFit) -> Json:
    if isinstance(one.fit, Unavailable):
        return unavailable(one.fit.reason)
    answer = _every_kind(one.fit)
    if isinstance(one.fit, MeasuredFit):
        answer |= _measured(one, one.fit)
    elif isinstance(one.fit, OutcomeModel):
        answer |= own_keys(one.fit)
    if one.with_excluded is not None:
        answer["with_excluded"] = _with_excluded(one.with_excluded)
    return answer


def _every_kind(fit: Fit) -> JsonObject:
    return {
        "kind": fit.kind,
        "unit": getattr(fit.outcome, "unit", ""),
        "scale": getattr(fit.outcome, "scale", "as read"),
        "model": str(fit.terms) or "mean only",
        "model_sentence": fit.model,
        "uses": "as-run" if fit.uses_as_run else "planned",
        "n_runs": int(np.unique(fit.run).size),
        "n_excluded": fit.n_excluded,
        "error_df": number(fit.error_df),
        "residual_sd": number(fit.residual_sd),
        "r_squared": number(fit.r_squared),
        "adjusted_r_squared": number(fit.adjusted_r_squared),
        "predicted_r_squared": number(fit.predicted_r_squared),
        "terms": [_coefficient(one) for one in fit.coefficients],
        "tests": [_test(test) for test in fit.tests],
        "tests_without_products": [_test(test) for test in _without_products(fit)],
        "effects": [_effect(effect) for effect in fit.effects],
        "cannot_tell_apart": [words(group.terms) for group in fit.aliased],
        "aliased_lines": [group.line for group in fit.aliased],
        "reading": reading(fit),
        "notes": words(fit.notes),
    }


def _without_products(fit: Fit) -> tuple[TermTest, ...]:
    return tests_without_products(fit) if isinstance(fit, MeasuredFit) else ()


def _measured(one: OutcomeFit, fit: MeasuredFit) -> JsonObject:
    natural = [_coefficient(other) for other in fit.natural_coefficients]
    return {
        "variance_components": _components(fit),
        "terms": [*(_coefficient(other) for other in fit.coefficients), *natural],
        "lack_of_fit": _lack_of_fit(fit),
        "pseudo_error": _pseudo_error(fit),
        "crossing": [_crossing(crossing) for crossing in one.crossings],
        "power_family": _power_family(fit),
        "scale_checks": [
            {"scale": check.scale, "p": {name: number(p) for name, p in check.p}}
            for check in fit.scale_checks
        ],
        "largest_leverage": _largest_leverage(fit),
    }


def _components(fit: MeasuredFit) -> JsonObject:
    found: JsonObject = {}
    if not isinstance(fit.residual_variance, Unavailable):
        found["run_mean"] = _component(fit.residual_variance, fit.error_df)
    if fit.part_scatter is not None:
        found["part"] = _component(fit.part_scatter.variance, fit.part_scatter.df)
    return found


def _component(variance: float, df: int) -> JsonObject:
    limits = variance_limits(variance, df, confidence=CONFIDENCE)
    return {
        "value": number(variance),
        "low": number(limits.low),
        "high": number(limits.high),
        "df": df,
    }


def _coefficient(one: Coefficient) -> JsonObject:
    answer: JsonObject = {"term": one.name, "scale": one.scale, "estimate": number(one.value)}
    return (
        answer
        | _uncertainty(one.estimate)
        | {
            "statistic": number(one.statistic),
            "p": number(one.p),
        }
    )


def _effect(one: Effect) -> JsonObject:
    answer: JsonObject = {
        "effect_of": one.name,
        "size": number(one.value),
        "unit": one.unit,
        "is_ratio": one.is_ratio,
        "from_to": one.from_to,
    }
    return answer | _uncertainty(one.estimate) | {"p": number(one.p)}


def _uncertainty(estimate: object) -> JsonObject:
    if isinstance(estimate, Unavailable):
        reason = unavailable(estimate.reason)
        return dict.fromkeys(("std_error", "low", "high", "df"), reason)
    return {key: number(getattr(estimate, key)) for key in ("std_error", "low", "high", "df")}


def _test(one: TermTest) -> JsonObject:
    return {
        "term": str(one.term),
        "df": one.df,
        "error_df": number(one.error_df),
        "sum_of_squares": number(one.sum_of_squares),
        "mean_square": number(one.mean_square),
        "statistic": number(one.statistic),
        "p": number(one.p),
        "stratum": one.stratum,
    }


def _lack_of_fit(fit: MeasuredFit) -> JsonObject:
    one = fit.lack_of_fit
    if isinstance(one, Unavailable):
        return unavailable(one.reason)
    return {
        "df": one.df,
        "pure_error_df": one.pure_error_df,
        "mean_square": number(one.mean_square),
        "pure_error_mean_square": number(one.pure_error_mean_square),
        "statistic": number(one.statistic),
        "p": number(one.p),
    }


def _pseudo_error(fit: MeasuredFit) -> JsonObject:
    one = fit.pseudo_error
    if isinstance(one, Unavailable):
        return unavailable(one.reason)
    return {
        "value": number(one.value),
        "margin": number(one.margin),
        "simultaneous_margin": number(one.simultaneous_margin),
        "margin_by_t": number(one.margin_by_t),
        "simultaneous_margin_by_t": number(one.simultaneous_margin_by_t),
        "n_effects": one.n_effects,
        "standing_out": words(one.standing_out),
    }


def _power_family(fit: MeasuredFit) -> JsonObject:
    one = fit.power_family
    if isinstance(one, Unavailable):
        return unavailable(one.reason)
    return {"best": number(one.best), "low": number(one.low), "high": number(one.high)}


def _largest_leverage(fit: MeasuredFit) -> JsonObject:
    place = int(np.argmax(fit.diagnostics.leverage))
    return {
        "run": int(fit.run[place]),
        "value": number(float(fit.diagnostics.leverage[place])),
    }


def _crossing(one: Crossing) -> JsonObject:
    answer: JsonObject = {
        "along": one.along.name,
        "between": one.between.name,
        "levels": words(one.levels),
        "value": number(one.value),
        "unit": one.along.unit,
        "inside_range": one.inside,
    }
    if isinstance(one.interval, Unavailable):
        reason = unavailable(one.interval.reason)
        return answer | {"low": reason, "high": reason}
    return answer | {"low": number(one.interval.low), "high": number(one.interval.high)}


def _with_excluded(fit: Fit | Unavailable) -> JsonObject:
    if isinstance(fit, Unavailable):
        return unavailable(fit.reason)
    return {
        "n_runs": int(np.unique(fit.run).size),
        "error_df": number(fit.error_df),
        "residual_sd": number(fit.residual_sd),
        "effects": [_effect(effect) for effect in fit.effects],
        "tests": [_test(test) for test in fit.tests],
        "tests_without_products": [_test(test) for test in _without_products(fit)],
    }


def _point(one: OutcomePrediction, row: int) -> JsonObject:
    found = one.prediction
    if isinstance(found, Unavailable):
        return unavailable(found.reason)
    chance: Json = (
        unavailable(one.chance.reason)
        if isinstance(one.chance, Unavailable)
        else number(float(one.chance[row]))
    )
    return {
        "unit": getattr(one.fitted.outcome, "unit", ""),
        "mean": number(float(found.mean[row])),
        "mean_low": number(float(found.mean_low[row])),
        "mean_high": number(float(found.mean_high[row])),
        "new_part_low": _end(found.new_part_low, row),
        "new_part_high": _end(found.new_part_high, row),
        "chance": chance,
        "leverage": number(float(found.leverage[row])),
        "inside_region": bool(found.inside[row]),
    }


def _end(ends: NDArray[np.float64] | Unavailable, row: int) -> Json:
    return number(ends if isinstance(ends, Unavailable) else float(ends[row]))


def _inside(predictions: Predictions, row: int) -> Json:
    """Return whether the point lies inside the region of every outcome that was predicted."""
    known = [
        bool(one.prediction.inside[row])
        for one in predictions.outcomes
        if not isinstance(one.prediction, Unavailable)
    ]
    return all(known) if known else unavailable("no outcome could be predicted")
