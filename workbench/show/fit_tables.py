"""Fits as tables: effects with their intervals, tests, what the model comes to."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.outcomes import Measured
from workbench.errors import Unavailable
from workbench.fit.measured import MeasuredFit
from workbench.fit.nouns import Estimate
from workbench.fit.outcome_model import OutcomeModel
from workbench.show.html_tables import Spanning, html_table, name, number, unit, verdict, words
from workbench.show.numbers import (
    decimals_for_width,
    degrees,
    fixed,
    p_value,
    short,
    size_words,
    with_interval,
    with_unit,
)
from workbench.show.sentences import by_size, sorted_by_size

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.fit.faces import Fit
    from workbench.fit.nouns import Effect, TermTest
    from workbench.fit.outcome_model import Fact, VarianceComponent
    from workbench.fit.scatter import ScatterFit
    from workbench.show.escape import Html

EFFECT_COLUMNS = (
    name("effect of"),
    number("size"),
    unit(),
    number("95\u00a0% from"),
    number("to"),
    number("standard error"),
    number("error df"),
    number("p"),
    unit("compared"),
)


def effects_table(fit: Fit) -> Html:
    """Return the effects of a fit, largest first, each with its interval."""
    places = _error_decimals(fit.effects)
    rows = [_effect(one, places) for one in by_size(fit)]
    return html_table(f"Effects on {fit.outcome.name}", EFFECT_COLUMNS, rows)


def spread_table(found: ScatterFit) -> Html:
    """Return what each setting does to the scatter, as ratios of standard deviations."""
    places = _error_decimals(found.effects)
    rows = [_effect(one, places) for one in sorted_by_size(found.effects)]
    caption = f"Effects on the scatter of {found.outcome.name}"
    if found.is_hint:
        caption += " (a hint: nothing was repeated)"
    return html_table(caption, EFFECT_COLUMNS, rows)


def tests_table(fit: Fit) -> Html:
    """Return the test of each term, adjusted for all others, and its error."""
    by_likelihood = isinstance(fit, OutcomeModel) and not isinstance(fit.outcome, Measured)
    by_likelihood |= fit.kind == "censored"
    columns = [
        name("term"),
        number("df"),
        number("error df"),
        number("likelihood ratio / df" if by_likelihood else "mean square"),
        number("F, or χ² where error df is ∞" if by_likelihood else "F"),
        number("p"),
        words("held against"),
    ]
    rows = [_test(one) for one in fit.tests]
    return html_table(f"Tests, {fit.outcome.name}", columns, rows)


def aliases_table(fit: Fit) -> Html:
    """Return which effects cannot be told apart: one number stands for all of a line."""
    rows = [(verdict("unsure", "cannot be told apart"), one.line) for one in fit.aliased]
    return html_table(
        f"One number for several effects, {fit.outcome.name}",
        [words("so far"), words("effects")],
        rows,
    )


def summary_table(fit: Fit) -> Html:
    """Return how well the model describes and foresees, or why that cannot be said.

    Of a model that is no plain least squares: its kind, the facts that describe it as a whole,
    and the scatter of each level of the structure.
    """
    caption = f"The model of {fit.outcome.name}"
    if isinstance(fit, MeasuredFit):
        return html_table(caption, [name("what"), words("value")], _measured(fit))
    columns = [name("what"), words("value"), unit("what it means")]
    return html_table(caption, columns, _of_model(fit))


def components_table(fit: OutcomeModel) -> Html:
    """Return the scatter of each level of the structure as an SD with its limits."""
    columns = [
        name("what varies"),
        number("levels"),
        number("SD"),
        unit(),
        number("95\u00a0% from"),
        number("to"),
    ]
    known = [_root(one.value) for one in fit.scatter if one.value > 0]
    places = 1 + decimals_for_width(min(known, default=1.0))
    rows = [_component(one, fit, places) for one in fit.scatter]
    return html_table(f"Where the scatter of {fit.outcome.name} comes from", columns, rows)


def _measured(fit: MeasuredFit) -> list[tuple[str, str]]:
    return [
        ("runs used", str(len(fit.run))),
        ("runs left out", str(fit.n_excluded)),
        ("scale", fit.outcome.scale),
        ("error degrees of freedom", str(fit.error_df)),
        ("scatter of a run mean (SD)", _scatter(fit)),
        ("explained (R²)", _share(fit.r_squared)),
        ("foreseen (predicted R²)", _share(fit.predicted_r_squared)),
        ("lack of fit", _lack(fit)),
    ]


def _of_model(fit: Fit) -> list[tuple[str, str, str]]:
    runs = int(np.unique(fit.run).size)
    rows = [("kind", fit.kind, fit.model), ("runs used", str(runs), "")]
    if fit.run.size > runs:
        rows.append(("rows of the model", str(fit.run.size), "parts of a run are rows"))
    rows.append(("runs left out", str(fit.n_excluded), ""))
    scale = getattr(fit.outcome, "scale", "as read")
    if scale != "as read":
        rows.append(("scale", scale, ""))
    if not isinstance(fit.error_df, Unavailable):
        rows.append(("error degrees of freedom", degrees(fit.error_df), ""))
    if not isinstance(fit.residual_sd, Unavailable):
        rows.append(("scatter about the model (SD)", _residual_sd(fit, fit.residual_sd), ""))
    if not isinstance(fit.r_squared, Unavailable):
        rows.append(("explained (R²)", fixed(fit.r_squared, 3), ""))
    facts = fit.facts if isinstance(fit, OutcomeModel) else ()
    return [*rows, *(_fact(one) for one in facts)]


def _fact(one: Fact) -> tuple[str, str, str]:
    value = one.value
    if isinstance(value, Unavailable):
        return (one.name, "cannot be told", value.reason)
    if isinstance(value, Estimate):
        found = with_interval(value.value, value.low, value.high, is_ratio=_is_odds(one))
        said = f"{found.value} (95\u00a0%: {found.interval})"
        return (one.name, said if _is_odds(one) else with_unit(said, one.unit), one.words)
    is_chance = one.name.endswith(", p") or one.words.startswith("p of")
    said = p_value(value) if is_chance else with_unit(short(value), one.unit)
    return (one.name, said, one.words)


def _is_odds(one: Fact) -> bool:
    return one.unit.startswith("odds")


def _component(one: VarianceComponent, fit: OutcomeModel, places: int) -> tuple[object, ...]:
    scale = getattr(fit.outcome, "scale", "as read")
    logit = not isinstance(fit.outcome, Measured)
    its_unit = "logits" if logit else getattr(fit.outcome, "unit", "")
    if scale != "as read":
        its_unit = f"on the {scale} scale"
    size = "0 (estimate below zero)" if one.below_zero else fixed(_root(one.value), places)
    start = (one.level, str(one.n_levels), size, its_unit)
    return (*start, _limit(one.low, places), _limit(one.high, places))


def _limit(variance: float | Unavailable, places: int) -> str:
    if isinstance(variance, Unavailable):
        return variance.reason
    return fixed(_root(variance), places)


def _root(variance: float) -> float:
    return math.sqrt(max(variance, 0.0))


def _error_decimals(effects: Sequence[Effect]) -> int:
    found = (one.estimate for one in effects)
    errors = [one.std_error for one in found if not isinstance(one, Unavailable)]
    return decimals_for_width(min((one for one in errors if one > 0), default=1.0))


def _effect(effect: Effect, places: int) -> tuple[object, ...]:
    its_unit = "ratio" if effect.is_ratio else effect.unit
    if effect.is_ratio and effect.unit.startswith("odds"):
        its_unit = "odds ratio"
    if isinstance(effect.estimate, Unavailable):
        size = size_words(effect.value, is_ratio=effect.is_ratio)
        if isinstance(effect.p, Unavailable):
            missing = Spanning(words=effect.estimate.reason, columns=5)
            return (effect.name, size, its_unit, missing, effect.from_to)
        missing = Spanning(words=effect.estimate.reason, columns=4)
        return (effect.name, size, its_unit, missing, _p(effect.p), effect.from_to)
    found = with_interval(
        effect.value, effect.estimate.low, effect.estimate.high, is_ratio=effect.is_ratio
    )
    error = f"{fixed(effect.estimate.std_error, places)}{' (ln)' if effect.is_ratio else ''}"
    return (
        effect.name,
        found.value,
        its_unit,
        found.low,
        found.high,
        error,
        degrees(effect.estimate.df),
        _p(effect.p),
        effect.from_to,
    )


def _test(one: TermTest) -> tuple[object, ...]:
    start = (str(one.term), str(one.df), degrees(one.error_df), short(one.mean_square))
    if isinstance(one.statistic, Unavailable):
        missing = Spanning(words=one.statistic.reason, columns=5)
        return (
            (str(one.term), str(one.df), missing)
            if not one.stratum
            else (
                *start,
                Spanning(words=one.statistic.reason, columns=2),
                one.stratum,
            )
        )
    return (*start, short(one.statistic), _p(one.p), one.stratum)


def _p(p: float | Unavailable) -> str:
    return p.reason if isinstance(p, Unavailable) else p_value(p)


def _share(value: float | Unavailable) -> str:
    return value.reason if isinstance(value, Unavailable) else fixed(value, 3)


def _scatter(fit: MeasuredFit) -> str:
    if isinstance(fit.residual_variance, Unavailable):
        return fit.residual_variance.reason
    return _residual_sd(fit, float(fit.residual_variance) ** 0.5)


def _residual_sd(fit: Fit, spread: float) -> str:
    scale = getattr(fit.outcome, "scale", "as read")
    if scale == "as read":
        return with_unit(short(spread), getattr(fit.outcome, "unit", ""))
    return f"{short(spread)} on the {scale} scale"


def _lack(fit: MeasuredFit) -> str:
    found = fit.lack_of_fit
    if isinstance(found, Unavailable):
        return found.reason
    return (
        f"F = {short(found.statistic)} on {found.df} and {found.pure_error_df} df, "
        f"p {p_value(found.p)}"
    )
