"""Titles: the answer of a figure in one sentence, and "open" where the runs cannot carry one."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.decide.windows import NoWindow
from workbench.define.outcomes import Measured
from workbench.errors import Unavailable
from workbench.fit.measured import MeasuredFit
from workbench.show.clarity import (
    Clarity,
    clarity,
    has_error,
    is_on_ratio,
    is_small,
    no_change,
    pseudo_error,
)
from workbench.show.measures import measure, ratio_meaning, ratio_name, ratio_of, subject
from workbench.show.numbers import (
    chance,
    fixed,
    in_hundred,
    percent,
    requirement,
    short,
    size_words,
    unit_of,
    with_interval,
    with_unit,
)
from workbench.show.residual_rows import residuals_of
from workbench.show.words import counted, listed, sentence, spelled

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.decide.windows import Decision, Window
    from workbench.define.outcomes import Outcome, Requirement
    from workbench.fit.faces import Fit
    from workbench.fit.nouns import Effect
    from workbench.fit.outcome_model import OutcomeModel
    from workbench.run.record import Record
    from workbench.show.nouns import Lines, MeanMap

POWERS = {"as read": 1.0, "log": 0.0, "square root": 0.5, "inverse": -1.0}


def by_size(fit: Fit) -> tuple[Effect, ...]:
    """Return the effects, largest first, ratios by their distance from no change."""
    return sorted_by_size(fit.effects)


def sorted_by_size(effects: tuple[Effect, ...]) -> tuple[Effect, ...]:
    """Return effects, largest first, ratios by their distance from no change."""
    return tuple(sorted(effects, key=_size, reverse=True))


def effects_sentence(fit: Fit) -> str:
    """Return what moves the outcome, interactions before averages, and what is open."""
    name = subject(fit.outcome)
    if not fit.effects:
        return f"No effect on {name} can be estimated from these runs"
    if isinstance(fit, MeasuredFit) and np.ptp(fit.response) == 0:
        return sentence(f"{name} was the same in every run: nothing tried moved it")
    clear = [one for one in by_size(fit) if clarity(one, fit) is Clarity.CLEAR]
    if not has_error(fit):
        return _without_error(fit, clear)
    if not clear:
        return _nothing_clear(fit)
    return sentence("; ".join([*_movers(name, clear), *_still_open(fit, clear)]))


def effects_caption(fit: Fit) -> str:
    """Return what the rows of an effects figure show, in which unit, and how marks read."""
    what = _compared(fit)
    if not has_error(fit):
        return _caption_without_error(fit, what)
    marks = "Filled: clear. Hollow violet: open."
    if worth := _worth(fit.outcome):
        marks += f" Hollow grey, within the band: less than {worth}, too small to matter."
    meaning = ratio_meaning(fit)
    return f"{what}, 95\u00a0% interval. {marks}" + (f" {meaning}" if meaning else "")


def _compared(fit: Fit) -> str:
    if not is_on_ratio(fit):
        unit = f"in {_effect_unit(fit)}"
        return f"Change in {fit.outcome.name} from the low to the high setting, {unit}"
    if ratio_of(fit) == fit.outcome.name:
        return f"Change in {fit.outcome.name} from the low to the high setting, as a ratio"
    return (
        f"{sentence(ratio_of(fit))} at the high setting over that at the low one "
        f"({ratio_name(fit)})"
    )


def _caption_without_error(fit: Fit, what: str) -> str:
    if isinstance(pseudo_error(fit), Unavailable):
        return f"{what}. Sizes alone: these runs give no error estimate."
    return (
        f"{what}. Sizes alone: no error estimate. Band: within the margin of Lenth’s pseudo "
        "standard error, where pure scatter would put 95 of 100 single effects. "
        "Filled: beyond it."
    )


def interaction_sentence(lines: Lines) -> str:
    """Return whether one setting changes what another does."""
    along, by, name = lines.along.name, lines.by.name, subject(lines.outcome)
    estimate = lines.effect.estimate if lines.effect else None
    if estimate is None or isinstance(estimate, Unavailable):
        return sentence(f"whether {by} changes what {along} does to {name} is open")
    nothing = no_change(lines.effect) if lines.effect else 0.0
    if estimate.low <= nothing <= estimate.high:
        return sentence(f"whether {by} changes what {along} does to {name} is open")
    if is_small(estimate, lines.outcome):
        return f"What {along} does to {name} depends on {by}, but by too little to matter"
    return f"What {along} does to {name} depends on {by}"


def interaction_caption(lines: Lines) -> str:
    """Return what the lines of an interaction figure are."""
    drawn = measure(lines.outcome)
    unit = f", {drawn.unit}," if drawn.unit else ""
    at = f" at {lines.held}" if lines.held else ""
    return (
        f"{sentence(drawn.mean)}{unit} with {percent(lines.confidence)} band{at}; one line "
        f"for each {lines.by.name}.{_runs_words(lines)}"
    )


def _runs_words(lines: Lines) -> str:
    runs = lines.runs
    if runs is None:
        return ""
    if runs.parts is not None:
        return (
            " Marks: what was seen at those two settings, whatever the others were; larger: more "
            "parts."
        )
    arrows = " Arrows: readings cut off, the value lies beyond." if runs.is_cut_off else ""
    return f" Circles: runs, moved to those settings by the fit.{arrows}"


def mean_map_sentence(drawn: MeanMap) -> str:
    """Return where the mean meets the requirement within what was drawn."""
    what = measure(drawn.outcome)
    name, limits = sentence(what.mean), what.limits
    seen = drawn.mean[drawn.inside]
    if seen.size == 0:
        name = drawn.outcome.name
        return sentence(f"where {name} goes is open: no drawn point lies in the region tried")
    if limits is None:
        low, high = (short(what.times * float(end), 3) for end in (seen.min(), seen.max()))
        return f"{name} goes from {low} to {with_unit(high, what.unit)}"
    meets = _meets(seen, limits)
    wanted = with_unit(requirement(limits), what.unit)
    if meets.all():
        return f"{name} is {wanted} everywhere on this map"
    if not meets.any():
        return f"{name} is {wanted} nowhere on this map"
    return f"{name} is {wanted} only on the side of the line that is not hatched"


def mean_map_caption(drawn: MeanMap) -> str:
    """Return what the lines of a map of the mean are."""
    what = measure(drawn.outcome)
    unit = f", {what.unit}" if what.unit else ""
    at = f", at {drawn.held}" if drawn.held else ""
    limits = what.limits
    fails = limits is not None and not _meets(drawn.mean[drawn.inside], limits).all()
    wall = " Hatched: the mean fails." if fails else ""
    runs = " Circles: runs." if drawn.runs else ""
    return f"{sentence(what.mean)}{unit}{at}. Lines thicken as it grows.{wall}{runs}"


def _meets(mean: NDArray[np.float64], limits: Requirement) -> NDArray[np.bool_]:
    low = -np.inf if limits.low is None else limits.low
    high = np.inf if limits.high is None else limits.high
    return np.asarray((mean >= low) & (mean <= high))


def decision_sentence(decision: Decision) -> str:
    """Return the answer to where to run: how many settings to hold, or that no window holds."""
    best = decision.best
    if isinstance(best, NoWindow):
        return (
            f"No window: nowhere within what was tried are {in_hundred(best.share)} parts assured"
        )
    many = len(best.limits)
    if many == 1:
        return f"Set {best.limits[0].factor.name}, and stay between the ends of the bar"
    return f"Set these {spelled(many)}, and stay between the bars"


def chance_sentence(decision: Decision | None, asked: tuple[Outcome, ...] = ()) -> str:
    """Return what the box on a chance map promises."""
    best = decision.best if decision else None
    if best is None or isinstance(best, NoWindow):
        return "Where a new part meets every requirement; no box is assured"
    return f"Inside the box, at least {in_hundred(best.share)} parts meet {together(asked)}"


def together(asked: tuple[Outcome, ...]) -> str:
    """Return "the requirement", "both requirements" or "all three requirements"."""
    count = len([one for one in asked if getattr(one, "requirement", None) is not None])
    if count == 0:
        return "every requirement"
    if count == 1:
        return "the requirement"
    return "both requirements" if count == 2 else f"all {spelled(count)} requirements"


def promise_words(window: Window) -> str:
    """Return the promise of a window, both of its numbers in it."""
    return (
        f"At least {in_hundred(window.share)} new parts meet every requirement anywhere in the "
        f"window, with {percent(window.confidence)} confidence"
    )


def miss_words(decided: NoWindow) -> str:
    """Return how near the best point comes to what was asked."""
    miss = decided.nearest_miss
    if miss is None:
        return "No point could be judged."
    return (
        f"The best point found has a chance of {chance(miss.chance)}; assured with "
        f"{percent(decided.confidence)} confidence are {in_hundred(miss.assured_share)} parts, "
        f"asked were {in_hundred(decided.share)}."
    )


def order_sentence(fit: Fit | OutcomeModel) -> str:
    """Return which run lies furthest from the fit, or that none is odd."""
    return _odd_runs(fit) or "No run stands far from the fit; look for a slope or a step in time"


def scatter_sentence(fit: MeasuredFit) -> str:
    """Return whether the scale of the fit keeps scatter even, from the power profile."""
    family = fit.power_family
    if isinstance(family, Unavailable):
        return f"Whether scatter is even is open: {family.reason}"
    best = fixed(family.best, 1)
    span = f"{fixed(family.low, 1)} to {fixed(family.high, 1)}"
    if family.low <= POWERS[fit.outcome.scale] <= family.high:
        return f"The scale “{fit.outcome.scale}” is supported (best power {best}, {span})"
    return f"Another scale would keep scatter more even (best power {best}, {span})"


def stand_out_sentence(fit: Fit) -> str:
    """Return how many effects stand clear of what pure scatter would give."""
    pseudo = pseudo_error(fit)
    if isinstance(pseudo, Unavailable):
        clear = [one for one in fit.effects if clarity(one, fit) is Clarity.CLEAR]
        yardstick = ""
    else:
        clear = [one for one in fit.effects if one.name in pseudo.standing_out]
        yardstick = "no error estimate; "
    many = "No effect stands" if not clear else _standing_count(len(clear))
    return sentence(f"{yardstick}{many} clear of what pure scatter would give")


def runs_sentence(record: Record) -> str:
    """Return how many of the runs were made and what became of the others."""
    states = [str(one) for one in record.status]
    done, total = states.count("done"), len(states)
    others = [
        f"{states.count(word)} {word}"
        for word in ("failed", "excluded", "repeated", "missing")
        if word in states
    ]
    if not others:
        return f"All {counted(total, 'run')} were made and count" if total != 1 else "One run"
    return f"{done} of {counted(total, 'run')} count; {listed(others)}"


def _size(effect: Effect) -> float:
    if effect.is_ratio:
        return abs(float(np.log(effect.value))) if effect.value > 0 else np.inf
    return abs(effect.value)


def _without_error(fit: Fit, clear: list[Effect]) -> str:
    head = sentence(f"{subject(fit.outcome)}: no error estimate")
    if isinstance(pseudo_error(fit), Unavailable):
        return f"{head}; sizes alone, nothing can be called clear"
    if not clear:
        return f"{head}; no effect stands out by its size"
    stand = "stands" if len(clear) == 1 else "stand"
    return f"{head}; {listed([one.name for one in clear])} {stand} out by size"


def _nothing_clear(fit: Fit) -> str:
    states = {clarity(one, fit) for one in fit.effects}
    if states == {Clarity.SMALL}:
        return f"Nothing tried changes {fit.outcome.name} by as much as {_worth(fit.outcome)}"
    return f"No effect on {subject(fit.outcome)} stands clear of scatter: what moves it is open"


def _movers(name: str, clear: list[Effect]) -> list[str]:
    """Return clauses on what is clear: interactions first, then what acts by itself."""
    crossed = _in_order([one for one in clear if len(one.term.factors) > 1])
    tied = {factor for one in crossed for factor in one.term.factors}
    alone = [
        str(one.term) if one.term.order > 1 else one.term.factors[0]
        for one in _in_order(clear)
        if len(one.term.factors) == 1 and one.term.factors[0] not in tied
    ]
    alone = list(dict.fromkeys(factor.removesuffix("²") for factor in alone))
    clauses = []
    if crossed:
        first, *rest = crossed[0].term.factors
        more = f" (and {counted(len(crossed) - 1, 'more pair')})" if len(crossed) > 1 else ""
        clauses.append(f"what {first} does to {name} depends on {listed(rest)}{more}")
    if alone:
        verb = "moves" if len(alone) == 1 else "move"
        clauses.append(f"{listed(alone)} {verb} {'it too' if crossed else name}")
    return clauses


def _still_open(fit: Fit, clear: list[Effect]) -> list[str]:
    known = {factor for one in clear for factor in one.term.factors}
    doubt = [
        one.term.factors[0]
        for one in by_size(fit)
        if one.term.order == 1
        and clarity(one, fit) is Clarity.OPEN
        and one.term.factors[0] not in known
    ]
    doubt = list(dict.fromkeys(doubt))
    if not doubt:
        return []
    return [f"{listed(doubt, most=3)} {'is' if len(doubt) == 1 else 'are'} open"]


def _in_order(effects: list[Effect]) -> list[Effect]:
    return list({one.term: one for one in effects}.values())


def _standing_count(count: int) -> str:
    return (
        f"{spelled(count)} effect{'' if count == 1 else 's'} {'stands' if count == 1 else 'stand'}"
    )


def _odd_runs(fit: Fit | OutcomeModel) -> str:
    found = residuals_of(fit)
    if found is None or found.undefined.all():
        return "Whether any run is odd is open: the model has no runs to spare"
    odd = list(dict.fromkeys(str(run) for run in found.run[found.odd]))
    if not odd:
        return ""
    if len(odd) == 1:
        return f"Run {odd[0]} stands far from the fit: see what happened there"
    return f"Runs {listed(odd)} stand far from the fit: see what happened there"


def _worth(outcome: Outcome) -> str:
    if not isinstance(outcome, Measured) or outcome.worth_finding is None:
        return ""
    if outcome.scale == "log":
        return f"×/÷{short(outcome.worth_finding)}"
    return with_unit(short(outcome.worth_finding), outcome.unit)


def _effect_unit(fit: Fit) -> str:
    unit = fit.effects[0].unit if fit.effects else unit_of(fit.outcome)
    return unit or "its own numbers"


def effect_number(effect: Effect) -> str:
    """Return an effect with its unit, and its interval if it has one."""
    if isinstance(effect.estimate, Unavailable):
        size = size_words(effect.value, is_ratio=effect.is_ratio)
        return with_unit(size, "" if effect.is_ratio else effect.unit)
    found = with_interval(
        effect.value, effect.estimate.low, effect.estimate.high, is_ratio=effect.is_ratio
    )
    return with_unit(found.value, "" if effect.is_ratio else effect.unit)
