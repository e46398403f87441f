"""Fits and predictions in words and plain tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench import fit
from workbench.cli.tables import Table, folded, notes
from workbench.errors import Unavailable
from workbench.show.numbers import (
    chance,
    decimals_for_width,
    fixed,
    p_value,
    setting,
    short,
    with_interval,
    with_unit,
)
from workbench.steps.answers import residual_sd

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.fit.measured import MeasuredFit
    from workbench.fit.nouns import Effect
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
        folded(_scatter(one.fit)),
        folded(fit.reading(one.fit)),
        _both_answers(one),
        notes(one.fit.notes),
    ]
    return "\n\n".join(part for part in parts if part)


def _heading(one: MeasuredFit) -> str:
    unit = f" ({one.outcome.unit})" if one.outcome.unit else ""
    scale = "" if one.outcome.scale == "as read" else f" on the {one.outcome.scale} scale"
    settings = "settings as run" if one.uses_as_run else "settings as planned"
    left = f", {one.n_excluded} excluded" if one.n_excluded else ""
    title = f"{one.outcome.name}{unit}{scale}: {len(one.response)} runs{left}, {settings}"
    model = str(one.terms) if len(one.terms) else "the mean alone"
    return "\n".join([folded(title), folded(f"model: {model}", hanging="  ")])


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


def _scatter(one: MeasuredFit) -> str:
    sd = residual_sd(one)
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
    return f"with the excluded runs counted in ({len(other.response)} runs):\n{table}"


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
