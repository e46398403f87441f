"""Nouns as tables: what was asked, planned and seen."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.define.constraints import LinearLimit
from workbench.define.factors import Categorical, Role
from workbench.define.outcomes import Counted, Graded, Measured
from workbench.run.record import Status
from workbench.show.escape import Html, text
from workbench.show.html_tables import html_table, name, number, unit, verdict, words
from workbench.show.numbers import (
    MINUS,
    decimals_of,
    fixed,
    requirement,
    setting,
    setting_decimals,
    short,
    tried,
    unit_of,
    with_unit,
    worth_finding,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.define.constraints import Constraint
    from workbench.define.factors import Factor
    from workbench.define.outcomes import Outcome
    from workbench.define.settings import Settings
    from workbench.define.trial import Trial
    from workbench.plan.plans import Plan
    from workbench.run import Deviation
    from workbench.run.receipt import Receipt
    from workbench.run.record import Readings, Record
    from workbench.show.html_tables import Column


def outcomes_table(trial: Trial) -> Html:
    """Return what a part must do: one row an outcome."""
    columns = [
        name("outcome"),
        number("requirement"),
        unit(),
        number("worth finding"),
        unit("how it is read"),
    ]
    rows = [
        (one.name, _asked(one), unit_of(one), worth_finding(one) or "not said", _method(one))
        for one in trial.outcomes
    ]
    return html_table("What a part must do", columns, rows)


def factors_table(trial: Trial) -> Html:
    """Return what may be set, over what range, and how well the line holds it."""
    columns = [name("setting"), number("tried"), unit(), number("line holds"), unit("changed")]
    rows = [
        (one.name, tried(one), one.unit, line_holds(one), _changed(one)) for one in trial.factors
    ]
    return html_table("What we may set", columns, rows)


def held_table(trial: Trial) -> Html:
    """Return what is kept constant."""
    rows = [(one.name, one.value, one.unit) for one in trial.held]
    return html_table("Kept constant", [name("setting"), number("value"), unit()], rows)


def constraints_table(trial: Trial) -> Html:
    """Return what must not be run, and why."""
    rows = [(_forbids(one, trial), one.reason) for one in trial.constraints]
    return html_table("Never run", [name("settings"), words("why")], rows)


def plan_table(plan: Plan) -> Html:
    """Return the runs in run order, settings in natural units."""
    factors = plan.settings.factors
    columns = [number("run"), number("block"), number("setup"), *_setting_heads(factors)]
    shown = written_settings(plan.settings)
    rows = [
        (i + 1, plan.block[i], plan.setup[i], *shown[i], plan.point[i]) for i in range(len(plan))
    ]
    return html_table("Runs in the order to make them", [*columns, words("point")], rows)


def record_table(record: Record) -> Html:
    """Return one row a run: settings as run, mean readings, what became of it."""
    heads = [
        number("run"),
        words(record.blocked_by or "block"),
        *_setting_heads(record.as_run.factors),
    ]
    heads += [number(_head(one.name, unit_of(one))) for one in record.trial.outcomes]
    shown = written_settings(record.as_run)
    means = [_means(record, one) for one in record.trial.outcomes]
    rows = [
        (
            record.run[i],
            record.block_labels[int(record.block[i])] if record.block_labels else "",
            *shown[i],
            *(column[i] for column in means),
            _status(record, i),
        )
        for i in range(len(record))
    ]
    caption = "What was run and read (mean of the parts of a run)"
    return html_table(caption, [*heads, words("status")], rows)


def deviations_table(deviations: Sequence[Deviation], trial: Trial) -> Html:
    """Return where a run was not made as planned."""
    columns = [
        number("run"),
        name("setting"),
        number("planned"),
        number("as run"),
        unit(),
        number("off by, in setting SDs"),
    ]
    rows = [_deviation(one, trial) for one in deviations]
    return html_table("Runs not made as planned", columns, rows)


def receipt_table(receipt: Receipt) -> Html:
    """Return every assumption made on taking a table in."""
    rows = [
        (
            one.where,
            one.met,
            one.understood,
            verdict("meets", "sure") if one.sure else verdict("unsure", "please check"),
        )
        for one in receipt.lines
    ]
    columns = [name("where"), words("met"), words("understood as"), words("sure?")]
    return html_table(f"Taken in: {receipt.n_rows} rows", columns, rows)


def line_holds(factor: Factor) -> str:
    """Return how well the line holds a setting, two standard deviations, or that nobody said."""
    if isinstance(factor, Categorical):
        return "as named"
    if factor.setting_sd is None:
        return "not stated"
    return f"±{short(2 * factor.setting_sd)} (2 SD)" if factor.setting_sd else "exactly"


def written_settings(settings: Settings) -> list[list[str]]:
    """Return every setting in words (n rows of k), each factor with its own decimals."""
    decimals = [
        setting_decimals(factor, settings.values[:, j][np.isfinite(settings.values[:, j])])
        for j, factor in enumerate(settings.factors)
    ]
    return [
        [
            setting(factor, value, decimals=places)
            for factor, value, places in zip(settings.factors, row, decimals, strict=True)
        ]
        for row in settings.values.tolist()
    ]


def _setting_heads(factors: Sequence[Factor]) -> list[Column]:
    return [
        words(one.name) if isinstance(one, Categorical) else number(_head(one.name, one.unit))
        for one in factors
    ]


def _head(label: str, its_unit: str) -> str:
    return with_unit(f"{label},", its_unit) if its_unit else label


def _asked(outcome: Outcome) -> str:
    limits = getattr(outcome, "requirement", None)
    if isinstance(outcome, Graded) and limits is not None:
        return requirement(limits)
    if limits is not None:
        return requirement(limits)
    return getattr(outcome, "passes", "nothing asked")


def _method(outcome: Outcome) -> str:
    said = [outcome.method, "destroys the part" if outcome.destructive else "", outcome.wait]
    if isinstance(outcome, Measured):
        if outcome.gauge_low is not None:
            said.append(f"floor {short(outcome.gauge_low)}")
        if outcome.gauge_high is not None:
            said.append(f"ceiling {short(outcome.gauge_high)}")
        if outcome.scale != "as read":
            said.append(f"{outcome.scale} scale")
    if isinstance(outcome, Counted) and outcome.out_of:
        said.append(f"out of {outcome.out_of}")
    return "; ".join(one for one in said if one)


def _changed(factor: Factor) -> str:
    if factor.role is Role.OBSERVED:
        return "only read"
    if factor.role is Role.HELD:
        return "never"
    when = "as seldom as the plan allows" if factor.slow else "every run"
    cost = f" ({factor.reset_cost})" if factor.slow and factor.reset_cost else ""
    varies = "; varies in production" if factor.role is Role.NOISE else ""
    return f"{when}{cost}{varies}"


def _forbids(constraint: Constraint, trial: Trial) -> str:
    if isinstance(constraint, LinearLimit):
        parts = [f"{short(weight)} × {factor}" for factor, weight in constraint.coefficients]
        total = " + ".join(parts).replace(f"+ {MINUS}", f"{MINUS} ")
        return f"{total} above {short(constraint.at_most)}"
    ranges = [
        f"{factor} {short(low)} to {with_unit(short(high), trial.factor(factor).unit)}"
        for factor, low, high in constraint.where
    ]
    return " and ".join([*ranges, *(f"{factor} {level}" for factor, level in constraint.levels)])


def _means(record: Record, outcome: Outcome) -> list[str]:
    readings = record.readings.get(outcome.name)
    if readings is None:
        return ["not read"] * len(record)
    return [_mean(readings, row, outcome) for row in range(len(record))]


def _mean(readings: Readings, row: int, outcome: Outcome) -> str:
    own = readings.row == row
    if not own.any():
        return "not read"
    mean = float(readings.value[own].mean())
    if isinstance(outcome, Graded) and own.sum() == 1:
        return outcome.grades[int(mean)]
    is_mean = np.unique(readings.row).size < len(readings)
    decimals = min(4, decimals_of(readings.value) + (1 if is_mean else 0))
    sign = {-1: "< ", 1: "> "}.get(int(readings.mark[own][0]), "") if own.sum() == 1 else ""
    mixed = own.sum() > 1 and (readings.mark[own] != 0).any()
    return f"{sign}{fixed(mean, decimals)}" + (" (some cut off)" if mixed else "")


def _status(record: Record, row: int) -> object:
    status, reason = record.status[row], record.reason[row]
    if status is Status.DONE:
        return reason or "done"
    sign = "unsure" if status is Status.MISSING else "fails"
    if not reason:
        return verdict(sign, status.value)
    return Html(f"{verdict(sign, f'{status.value}:')} {text(reason)}")  # the reason may wrap


def _deviation(one: Deviation, trial: Trial) -> tuple[object, ...]:
    factor = trial.factor(one.factor)
    off = "not known" if one.in_sd is None else fixed(one.in_sd, 1)
    numbers = [at for at in (one.planned, one.as_run) if not isinstance(at, str)]
    decimals = setting_decimals(factor, numbers)
    planned, as_run = (
        at if isinstance(at, str) else setting(factor, at, decimals=decimals)
        for at in (one.planned, one.as_run)
    )
    return (one.run, one.factor, planned, as_run, factor.unit, off)
