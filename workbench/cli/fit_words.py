"""Fits and predictions in words and plain tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench import fit
from workbench.cli.tables import Table, folded, notes
from workbench.define.written import (
    chance,
    decimals_for_width,
    fixed,
    p_value,
    setting,
    short,
    with_interval,
    with_unit,
)
from workbench.errors import Unavailable
from workbench.fit.measured import MeasuredFit
from workbench.fit.nouns import Estimate
from workbench.fit.outcome_model import OutcomeModel
from workbench.steps.model_answers import scatter_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.fit.faces import Fit
    from workbench.fit.nouns import Effect, TermTest
    from workbench.fit.outcome_model import Fact
    from workbench.steps.fitting import OutcomeFit
    from workbench.steps.predicting import OutcomePrediction, Predictions

UNKNOWN = "unknown"


def fits_text(fits: Sequence[OutcomeFit]) -> str:
    """Return every fit as a heading, a table of effects, what it says and what it cannot."""
    return "\n\n".join(_outcome_text(one) for one in fits)


def predictions_text(predictions: Predictions) -> str:
    """Return a table of the outcomes at each point."""
    rows = range(len(predictions.settings))
    return "\n\n".join(_point_text(predictions, row) for row in rows)


def _outcome_text(one: OutcomeFit) -> str:
    if isinstance(one.fit, Unavailable):
        return f"{one.outcome.name}: cannot be fitted: {one.fit.reason}"
    parts = [
        _heading(one.fit),
        str(effects_table(one.fit.effects)),
        tests_text(one.fit),
        folded(_scatter(one.fit)),
        folded(fit.reading(one.fit)),
        _both_answers(one),
        notes(one.fit.notes),
    ]
    return "\n\n".join(part for part in parts if part)


def _heading(one: Fit) -> str:
    own = getattr(one.outcome, "unit", "")
    unit = f" ({own})" if own else ""
    on_scale = getattr(one.outcome, "scale", "as read")
    scale = "" if on_scale == "as read" else f" on the {on_scale} scale"
    settings = "settings as run" if one.uses_as_run else "settings as planned"
    left = f", {one.n_excluded} excluded" if one.n_excluded else ""
    title = f"{one.outcome.name}{unit}{scale}: {np.unique(one.run).size} runs{left}, {settings}"
    model = str(one.terms) if len(one.terms) else "the mean alone"
    lines = [title, f"model: {model}", one.model]
    return "\n".join(folded(line, hanging="  " if i else "") for i, line in enumerate(lines))


def effects_table(effects: Sequence[Effect]) -> Table:
    """Return the table of effects with intervals, standard errors and p-values."""
    return Table(
        head=(
            "effect of",
            "size",
            "unit",
            "95 % from",
            "to",
            "standard error",
            "error df",
            "p",
            "which is",
        ),
        rows=tuple(_effect_row(one) for one in effects),
        numbers=frozenset({1, 3, 4, 5, 6, 7}),
    )


def tests_text(one: Fit) -> str:
    """Return the tests of whole terms as a table; empty where every term is one number."""
    if not isinstance(one, MeasuredFit):
        return str(tests_table(one.tests))
    if all(test.df <= 1 for test in one.tests):
        return ""
    without = {test.term: test for test in fit.tests_without_products(one)}
    rows = []
    for test in one.tests:
        rows.append(_test_row(test, "all other terms"))
        alone = without.get(test.term)
        if alone is not None and not np.isclose(alone.sum_of_squares, test.sum_of_squares):
            rows.append(_test_row(alone, "terms that do not contain it"))
    head = ("whole term", "df", "error df", "F", "p", "adjusted for")
    return str(Table(head=head, rows=tuple(rows), numbers=frozenset({1, 2, 3, 4})))


def _test_row(test: TermTest, adjusted_for: str) -> tuple[str, ...]:
    start = (str(test.term), str(test.df), short(test.error_df))
    if isinstance(test.statistic, Unavailable) or isinstance(test.p, Unavailable):
        return (*start, UNKNOWN, UNKNOWN, adjusted_for)
    return (*start, short(test.statistic, 3), p_value(test.p), adjusted_for)


def _effect_row(one: Effect) -> tuple[str, ...]:
    unit = "ratio" if one.is_ratio else one.unit
    if isinstance(one.estimate, Unavailable):
        return (one.name, short(one.value), unit, *(UNKNOWN,) * 5, one.from_to)
    estimate = one.estimate
    written = with_interval(one.value, estimate.low, estimate.high, is_ratio=one.is_ratio)
    p = UNKNOWN if isinstance(one.p, Unavailable) else p_value(one.p)
    return (
        one.name,
        written.value,
        unit,
        written.low,
        written.high,
        short(estimate.std_error, 2),
        short(estimate.df),
        p,
        one.from_to,
    )


def tests_table(tests: Sequence[TermTest]) -> Table:
    """Return the tests of whole terms, each with the stratum that judges it."""
    return Table(
        head=("test of", "df", "error df", "statistic", "p", "judged by"),
        rows=tuple(_judged_row(one) for one in tests),
        numbers=frozenset({1, 2, 3, 4}),
    )


def _judged_row(one: TermTest) -> tuple[str, ...]:
    known = not isinstance(one.statistic, Unavailable)
    return (
        str(one.term),
        str(one.df),
        short(one.error_df) if known else UNKNOWN,
        short(one.statistic) if not isinstance(one.statistic, Unavailable) else UNKNOWN,
        UNKNOWN if isinstance(one.p, Unavailable) else p_value(one.p),
        one.stratum if not isinstance(one.p, Unavailable) else one.p.reason,
    )


def _scatter(one: Fit) -> str:
    if isinstance(one, MeasuredFit):
        return _measured_scatter(one)
    if not isinstance(one, OutcomeModel):
        return ""
    return "; ".join((*scatter_words(one), *(_fact(fact) for fact in one.facts)))


def _fact(one: Fact) -> str:
    if isinstance(one.value, Unavailable):
        return f"{one.name} unknown: {one.value.reason}"
    if isinstance(one.value, Estimate):
        written = with_interval(one.value.value, one.value.low, one.value.high)
        return f"{one.name} {with_unit(written.value, one.unit)} (95 % {written.interval})"
    return f"{one.name} {with_unit(short(one.value, 4), one.unit)}"


def _measured_scatter(one: MeasuredFit) -> str:
    sd = one.residual_sd
    if isinstance(sd, Unavailable):
        return f"scatter from run to run: unknown, {sd.reason}"
    unit = one.outcome.unit if one.outcome.scale == "as read" else f"{one.outcome.scale} scale"
    size = with_unit(short(sd, 3), unit)
    said = [f"scatter of a run about the model: {size} ({one.error_df} error df)"]
    for name, share in (
        ("R²", one.r_squared),
        ("predicted R²", one.predicted_r_squared),
    ):
        said.append(f"{name} {UNKNOWN if isinstance(share, Unavailable) else fixed(share, 3)}")
    lack = one.lack_of_fit
    if isinstance(lack, Unavailable):
        said.append(f"lack of fit {UNKNOWN}: {lack.reason}")
    else:
        said.append(f"lack of fit p {p_value(lack.p)}")
    return "; ".join(said)


def _both_answers(one: OutcomeFit) -> str:
    other = one.with_excluded
    if other is None:
        return ""
    if isinstance(other, Unavailable):
        return f"with the excluded runs counted in: {other.reason}"
    table = effects_table(other.effects)
    title = f"with the excluded runs counted in ({np.unique(other.run).size} runs):"
    below = [tests_text(other), folded(_scatter(other))]
    return "\n\n".join([f"{title}\n{table}", *(part for part in below if part)])


def _point_text(predictions: Predictions, row: int) -> str:
    factors = predictions.settings.factors
    values = predictions.settings.values[row]
    at = ", ".join(
        f"{factor.name} {with_unit(setting(factor, float(value)), factor.unit)}"
        for factor, value in zip(factors, values, strict=True)
    )
    per_cent = short(predictions.confidence * 100)
    table = Table(
        head=(
            "outcome",
            "unit",
            "mean",
            f"{per_cent} % from",
            "to",
            "new part from",
            "to",
            "chance",
            "leverage",
            "region tried",
        ),
        rows=tuple(_prediction_row(one, row) for one in predictions.outcomes),
        numbers=frozenset({2, 3, 4, 5, 6, 7, 8}),
    )
    reasons = [_why(one) for one in predictions.outcomes]
    below = notes([reason for reason in reasons if reason])
    return "\n".join(part for part in (f"at {at}", str(table), below) if part)


def _prediction_row(one: OutcomePrediction, row: int) -> tuple[str, ...]:
    name, found = one.fitted.outcome.name, one.prediction
    if isinstance(found, Unavailable):
        return (name, "", *(UNKNOWN,) * 7, "")
    ends = [found.mean_low, found.mean_high, found.new_part_low, found.new_part_high]
    width = float(np.abs(found.mean_high[row] - found.mean_low[row]))
    decimals = decimals_for_width(width)
    passes = UNKNOWN if isinstance(one.chance, Unavailable) else chance(float(one.chance[row]))
    return (
        name,
        getattr(one.fitted.outcome, "unit", ""),
        fixed(float(found.mean[row]), decimals),
        *(
            UNKNOWN if isinstance(end, Unavailable) else fixed(float(end[row]), decimals)
            for end in ends
        ),
        passes,
        fixed(float(found.leverage[row]), 3),
        "inside" if bool(found.inside[row]) else "OUTSIDE: no run vouches for this",
    )


def _why(one: OutcomePrediction) -> str:
    name = one.fitted.outcome.name
    if isinstance(one.prediction, Unavailable):
        return f"{name}: cannot be predicted: {one.prediction.reason}"
    if isinstance(one.chance, Unavailable):
        return f"{name}: chance unknown: {one.chance.reason}"
    return ""
