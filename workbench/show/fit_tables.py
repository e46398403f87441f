"""Fits and decisions as tables: effects with their intervals, tests, limits, promises."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.decide.windows import NoWindow
from workbench.errors import Unavailable
from workbench.show.escape import Html, text
from workbench.show.html_tables import Spanning, html_table, name, number, unit, verdict, words
from workbench.show.numbers import (
    chance,
    decimals_for_width,
    fixed,
    in_hundred,
    limit_decimals,
    p_value,
    percent,
    ratio,
    requirement,
    short,
    unit_of,
    with_interval,
    with_unit,
)
from workbench.show.rails import is_edge, reached, stop_words
from workbench.show.sentences import by_size

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.decide.windows import Decision, Limit, Window
    from workbench.define.trial import Trial
    from workbench.fit.measured import MeasuredFit
    from workbench.fit.nouns import Effect, TermTest
    from workbench.show.story import Promise

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


def effects_table(fit: MeasuredFit) -> Html:
    """Return the effects of a fit, largest first, each with its interval."""
    places = _error_decimals(fit)
    rows = [_effect(one, places) for one in by_size(fit)]
    return html_table(f"Effects on {fit.outcome.name}", EFFECT_COLUMNS, rows)


def tests_table(fit: MeasuredFit) -> Html:
    """Return the test of each term, adjusted for all others, and its error."""
    columns = [
        name("term"),
        number("df"),
        number("error df"),
        number("mean square"),
        number("F"),
        number("p"),
        words("held against"),
    ]
    rows = [_test(one) for one in fit.tests]
    return html_table(f"Tests, {fit.outcome.name}", columns, rows)


def aliases_table(fit: MeasuredFit) -> Html:
    """Return which effects cannot be told apart: one number stands for all of a line."""
    rows = [(verdict("unsure", "cannot be told apart"), one.line) for one in fit.aliased]
    return html_table(
        f"One number for several effects, {fit.outcome.name}",
        [words("so far"), words("effects")],
        rows,
    )


def summary_table(fit: MeasuredFit) -> Html:
    """Return how well the model describes and foresees, or why that cannot be said."""
    rows = [
        ("runs used", str(len(fit.run))),
        ("runs left out", str(fit.n_excluded)),
        ("scale", fit.outcome.scale),
        ("error degrees of freedom", str(fit.error_df)),
        ("scatter of a run mean (SD)", _scatter(fit)),
        ("explained (R²)", _share(fit.r_squared)),
        ("foreseen (predicted R²)", _share(fit.predicted_r_squared)),
        ("lack of fit", _lack(fit)),
    ]
    return html_table(f"The model of {fit.outcome.name}", [name("what"), words("value")], rows)


def limits_table(decision: Decision) -> Html:
    """Return the window: low, set point and high of each setting, and what stops each side."""
    best = decision.best
    if isinstance(best, NoWindow):
        return no_window_table(best)
    columns = [
        name("setting"),
        number("low"),
        number("set"),
        number("high"),
        unit(),
        words("inside the range tried"),
        unit("stopped by (low / high)"),
    ]
    rows = [_limit(one) for one in best.limits]
    rows += [
        (factor, "", level, "", "", "", "one level, not a range") for factor, level in best.levels
    ]
    caption = f"The window: {in_hundred(best.share)} parts, {percent(best.confidence)} confidence"
    return html_table(caption, columns, rows)


def no_window_table(missing: NoWindow, trial: Trial | None = None) -> Html:
    """Return the nearest miss where no window exists, with units if the trial is given."""
    rows: list[tuple[object, ...]] = [("why", missing.reason)]
    if missing.nearest_miss is not None:
        miss = missing.nearest_miss
        rows += [(f"best point, {one}", _set_at(one, at, trial)) for one, at in miss.settings]
        rows += [
            ("chance there", chance(miss.chance)),
            ("assured there", chance(miss.assured_share)),
            ("asked", chance(missing.share)),
            ("what limits it", miss.limited_by),
        ]
    rows.append(("next trial", missing.next_trial))
    return html_table("No window", [name("what"), words("found")], rows)


def levels_table(decision: Decision) -> Html:
    """Return the answer for each combination of categorical levels that was tried."""
    rows = [_level(levels, found) for levels, found in decision.by_level]
    columns = [name("levels"), words("answer"), number("chance at set point"), number("assured")]
    return html_table("The answer for each level", columns, rows)


def promise_table(promises: Sequence[Promise], trial: Trial, window: Window) -> Html:
    """Return what the window promises for a new part, requirement by requirement."""
    columns = [
        name("requirement"),
        number("limit"),
        unit(),
        number("chance at set point"),
        number("lowest in the window"),
        words("verdict"),
    ]
    rows = [_promise(one, trial, window) for one in promises]
    total = bool(promises) and not promises[-1].outcome
    return html_table("What the window promises for a new part", columns, rows, total=total)


def rail(limit: Limit) -> Html:
    """Return a limit drawn small: the bar inside the range tried, the set point on it."""
    low, centre, high = (
        100 * reached(limit, value) for value in (limit.low, limit.set_point, limit.high)
    )
    ends = ("el " if is_edge(limit.limited_by_low) else "") + (
        "eh" if is_edge(limit.limited_by_high) else ""
    )
    return Html(
        f'<span class="rail" style="--lo:{low:.1f}%;--hi:{high:.1f}%;--set:{centre:.1f}%">'
        f'<i class="{ends.strip()}"></i><b></b></span>'
    )


def _error_decimals(fit: MeasuredFit) -> int:
    found = (one.estimate for one in fit.effects)
    errors = [one.std_error for one in found if not isinstance(one, Unavailable)]
    return decimals_for_width(min((one for one in errors if one > 0), default=1.0))


def _effect(effect: Effect, places: int) -> tuple[object, ...]:
    its_unit = "ratio" if effect.is_ratio else effect.unit
    if isinstance(effect.estimate, Unavailable):
        size = ratio(effect.value) if effect.is_ratio else short(effect.value)
        missing = Spanning(words=effect.estimate.reason, columns=5)
        return (effect.name, size, its_unit, missing, effect.from_to)
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
        short(effect.estimate.df),
        _p(effect.p),
        effect.from_to,
    )


def _test(one: TermTest) -> tuple[object, ...]:
    start = (str(one.term), str(one.df), short(one.error_df), short(one.mean_square))
    if isinstance(one.statistic, Unavailable):
        return (*start, Spanning(words=one.statistic.reason, columns=2), one.stratum)
    return (*start, short(one.statistic), _p(one.p), one.stratum)


def _p(p: float | Unavailable) -> str:
    return p.reason if isinstance(p, Unavailable) else p_value(p)


def _share(value: float | Unavailable) -> str:
    return value.reason if isinstance(value, Unavailable) else fixed(value, 3)


def _scatter(fit: MeasuredFit) -> str:
    if isinstance(fit.residual_variance, Unavailable):
        return fit.residual_variance.reason
    spread = float(fit.residual_variance) ** 0.5
    if fit.outcome.scale == "as read":
        return with_unit(short(spread), fit.outcome.unit)
    return f"{short(spread)} on the {fit.outcome.scale} scale"


def _lack(fit: MeasuredFit) -> str:
    found = fit.lack_of_fit
    if isinstance(found, Unavailable):
        return found.reason
    return (
        f"F = {short(found.statistic)} on {found.df} and {found.pure_error_df} df, "
        f"p {p_value(found.p)}"
    )


def _limit(limit: Limit) -> tuple[object, ...]:
    values = (limit.low, limit.set_point, limit.high)
    decimals = limit_decimals(limit.factor, values)
    low, centre, high = (fixed(value, decimals) for value in values)
    stops = f"{stop_words(limit.limited_by_low)} / {stop_words(limit.limited_by_high)}"
    set_point = Html(f"<b>{text(centre)}</b>")
    return (limit.factor.name, low, set_point, high, limit.factor.unit, rail(limit), stops)


def _level(levels: tuple[tuple[str, str], ...], found: Window | NoWindow) -> tuple[object, ...]:
    named = ", ".join(f"{factor} {level}" for factor, level in levels) or "as tried"
    if isinstance(found, NoWindow):
        return (named, Spanning(words=f"no window: {found.reason}", columns=3))
    return (
        named,
        verdict("meets", "window"),
        chance(found.chance_at_set_point),
        chance(found.lowest_share),
    )


def _promise(one: Promise, trial: Trial, window: Window) -> tuple[object, ...]:
    if not one.outcome:
        holds = one.lowest >= window.share
        said = f"{percent(window.share)} asked"
        sign = verdict("meets", said) if holds else verdict("unsure", said)
        return ("all together", "", "", chance(one.at_set_point), chance(one.lowest), sign)
    outcome = trial.outcome(one.outcome)
    limits = getattr(outcome, "requirement", None)
    return (
        one.outcome,
        requirement(limits) if limits is not None else "",
        unit_of(outcome),
        chance(one.at_set_point),
        chance(one.lowest),
        verdict("meets", "meets")
        if one.lowest >= window.share
        else verdict("unsure", "below the share asked"),
    )


def _set_at(factor: str, value: float | str, trial: Trial | None) -> str:
    if isinstance(value, str):
        return value
    return with_unit(short(value), trial.factor(factor).unit if trial else "")
