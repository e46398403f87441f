"""Decisions as tables: the window, what it promises, the nearest miss."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.decide.windows import NoWindow
from workbench.show.escape import Html, text
from workbench.show.html_tables import Spanning, html_table, name, number, unit, verdict, words
from workbench.show.numbers import (
    chance,
    fixed,
    in_hundred,
    limit_decimals,
    percent,
    requirement,
    short,
    unit_of,
    with_unit,
)
from workbench.show.rails import is_edge, reached, stop_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.decide.windows import Decision, Limit, Window
    from workbench.define.trial import Trial
    from workbench.show.story import Promise


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
