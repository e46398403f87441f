"""Confirmations and verdicts as tables: places, what was foreseen, what was seen."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.decide.verdict import Answer
from workbench.errors import Unavailable
from workbench.show.html_tables import html_table, name, number, unit, verdict, words
from workbench.show.numbers import (
    chance,
    decimals_for_width,
    fixed,
    percent,
    setting,
    short,
    with_unit,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.decide.capability import Index
    from workbench.decide.confirmation import ConfirmationPlan, Foreseen, Place
    from workbench.decide.tolerance import ToleranceStatement
    from workbench.decide.verdict import SeenOutcome, SeenPlace, Verdict
    from workbench.define.settings import Value
    from workbench.define.trial import Trial
    from workbench.show.escape import Html

SIGN = {Answer.HOLDS: "meets", Answer.FAILS: "fails", Answer.OPEN: "unsure"}


def places_table(plan: ConfirmationPlan, trial: Trial) -> Html:
    """Return where parts are made: settings, how many, what is foreseen of them."""
    names = [factor for factor, _ in plan.places[0].settings]
    columns = [name("place"), *(number(one) for one in _headed(names, trial)), number("parts")]
    columns += [number("chance foreseen"), number("share assured"), words("parts that may fail")]
    rows = [_place_row(one, trial) for one in plan.places]
    return html_table("Where parts are made", columns, rows)


def foreseen_table(plan: ConfirmationPlan) -> Html:
    """Return what is foreseen of every outcome at every place."""
    columns = [
        name("outcome"),
        words("at the"),
        words("required"),
        unit(),
        number("mean"),
        number("a new part"),
        number("mean of the parts"),
        number("chance"),
    ]
    rows = [
        (one.outcome, place.name, one.requirement, one.unit or "share", *_foreseen_cells(one))
        for place in plan.places
        for one in place.outcomes
    ]
    caption = f"Foreseen, with {percent(plan.interval_confidence)} intervals"
    return html_table(caption, columns, rows)


def verdict_table(found: Verdict) -> Html:
    """Return the answer of each place: parts, share shown, share asked."""
    columns = [
        name("place"),
        words("verdict"),
        number("parts"),
        number("met all"),
        number("failed"),
        number("lost"),
        number("not told"),
        number("shown at least"),
        number("exact interval of the count"),
    ]
    rows = [_verdict_row(one) for one in found.places]
    caption = (
        f"Asked: {percent(found.share)} of parts meet everything, with "
        f"{percent(found.confidence)} confidence, at each place on its own"
    )
    return html_table(caption, columns, rows)


def seen_table(plan: ConfirmationPlan, found: Verdict) -> Html:
    """Return every outcome at every place: mean, tolerance interval, index."""
    foreseen = {(place.name, one.outcome): one for place in plan.places for one in place.outcomes}
    columns = [
        name("outcome"),
        words("at the"),
        unit(),
        number("met"),
        number("mean"),
        number("foreseen"),
        number("tolerance interval"),
        words("index"),
    ]
    rows = [
        _seen_row(place, one, foreseen.get((place.name, one.outcome)))
        for place in found.places
        for one in place.outcomes
    ]
    caption = (
        f"Outcome by outcome; tolerance intervals hold {percent(found.share)} of parts with "
        f"{percent(found.confidence)} confidence"
    )
    return html_table(caption, columns, rows)


def answer_mark(answer: Answer) -> Html:
    """Return a verdict as sign and word."""
    return verdict(SIGN[answer], answer.value)


def index_words(one: Index | Unavailable) -> str:
    """Return indices with their intervals in words, spread first."""
    if isinstance(one, Unavailable):
        return one.reason
    said = [
        (
            f"{one.nearest_name} {fixed(one.nearest, 2)} ({fixed(one.nearest_low, 2)} to "
            f"{fixed(one.nearest_high, 2)})"
        )
    ]
    ends = (one.spread, one.spread_low, one.spread_high)
    numbers = [end for end in ends if not isinstance(end, Unavailable)]
    if len(numbers) == len(ends):
        value, low, high = (fixed(end, 2) for end in numbers)
        said.insert(0, f"{one.spread_name} {value} ({low} to {high})")
    return ", ".join(said)


def tolerance_words(one: ToleranceStatement | Unavailable, in_unit: str = "") -> str:
    """Return a tolerance interval in words, with the unit if one is given."""
    if isinstance(one, Unavailable):
        return one.reason
    ends = [end for end in (one.low, one.high) if end is not None]
    decimals = decimals_for_width(ends[1] - ends[0]) if len(ends) == 2 else None
    shown = [short(end, 3) if decimals is None else fixed(end, decimals) for end in ends]
    if not shown:
        return "no end"
    if len(shown) == 2:
        return with_unit(f"{shown[0]} to {shown[1]}", in_unit)
    return f"{with_unit(shown[0], in_unit)} or {'more' if one.high is None else 'less'}"


def shown_setting(trial: Trial, factor: str, value: Value) -> str:
    """Return one setting in words, without its unit."""
    return value if isinstance(value, str) else setting(trial.factor(factor), value)


def setting_words(trial: Trial, settings: Sequence[tuple[str, Value]]) -> str:
    """Return settings in words with their units."""
    return ", ".join(
        f"{one} {with_unit(shown_setting(trial, one, value), trial.factor(one).unit)}"
        for one, value in settings
    )


def _headed(names: Sequence[str], trial: Trial) -> list[str]:
    units = [trial.factor(one).unit for one in names]
    return [f"{one}, {unit}" if unit else one for one, unit in zip(names, units, strict=True)]


def _place_row(one: Place, trial: Trial) -> tuple[object, ...]:
    label = f"{one.name}: {one.why}" if one.why else one.name
    return (
        label,
        *(shown_setting(trial, factor, value) for factor, value in one.settings),
        one.parts,
        chance(one.chance),
        chance(one.assured_share),
        _may_fail(one),
    )


def _may_fail(one: Place) -> str:
    low, high = one.failures_low, one.failures_high
    foreseen = f"{low}" if low == high else f"{low} to {high}"
    allowed = "" if one.failures_allowed is None else f"; counted, {one.failures_allowed} allowed"
    return f"{foreseen} foreseen{allowed}"


def _foreseen_cells(one: Foreseen) -> tuple[str, ...]:
    decimals = decimals_for_width(one.mean_high - one.mean_low)
    mean = f"{fixed(one.mean, decimals)} ({_ends(one.mean_low, one.mean_high, decimals)})"
    return (
        mean,
        _ends(one.new_part_low, one.new_part_high, decimals),
        _ends(one.parts_mean_low, one.parts_mean_high, decimals),
        chance(one.chance),
    )


def _ends(low: float | Unavailable, high: float | Unavailable, decimals: int) -> str:
    if isinstance(low, Unavailable) or isinstance(high, Unavailable):
        return "none"
    return f"{fixed(low, decimals)} to {fixed(high, decimals)}"


def _verdict_row(one: SeenPlace) -> tuple[object, ...]:
    tally = one.tally
    return (
        one.name,
        answer_mark(one.answer),
        tally.planned,
        tally.met,
        tally.failed,
        tally.lost,
        tally.unknown,
        f"{chance(one.shown)} by {one.judged_by.value}",
        f"{chance(one.share_low)} to {_high(one.share_high)}",
    )


def _high(share: float) -> str:
    return percent(1.0) if share >= 1 else chance(share)


def _seen_row(place: SeenPlace, one: SeenOutcome, foreseen: Foreseen | None) -> tuple[object, ...]:
    low = foreseen.parts_mean_low if foreseen else Unavailable(reason="")
    high = foreseen.parts_mean_high if foreseen else Unavailable(reason="")
    decimals = 2
    if not isinstance(low, Unavailable) and not isinstance(high, Unavailable):
        decimals = decimals_for_width(high - low)
    mean = "none" if isinstance(one.mean, Unavailable) else fixed(one.mean, decimals)
    expected = _ends(low, high, decimals)
    flagged = f"{expected}: outside" if one.mean_as_foreseen is False else expected
    return (
        one.outcome,
        place.name,
        one.unit or "share",
        f"{one.tally.met} of {one.tally.planned}",
        mean,
        flagged,
        tolerance_words(one.tolerance),
        index_words(one.index),
    )
