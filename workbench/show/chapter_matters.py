"""What matters: a chapter for each outcome, what depends on what before averages."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import Unavailable
from workbench.fit.measured import MeasuredFit
from workbench.show.asked_again import sensitivity_sentence
from workbench.show.chapter_again import again_screens, several_screens, shape_screens
from workbench.show.chapter_checks import checks_screen
from workbench.show.clarity import Clarity, clarity
from workbench.show.effect_rows import effects
from workbench.show.fit_tables import aliases_table, effects_table
from workbench.show.line_pairs import interaction
from workbench.show.made import made_fit, with_made
from workbench.show.mean_lines import contour_of_mean
from workbench.show.numbers import percent, with_interval
from workbench.show.page import Screen, figure, folded, said_open
from workbench.show.sentences import (
    by_size,
    effect_number,
    effects_caption,
    effects_sentence,
    interaction_caption,
    interaction_sentence,
    mean_map_caption,
    mean_map_sentence,
)
from workbench.show.words import counted, listed, sentence

if TYPE_CHECKING:
    from workbench.fit.faces import Fit
    from workbench.fit.nouns import Effect
    from workbench.show.escape import Html
    from workbench.show.nouns import Lines, MeanMap
    from workbench.show.story import Story

NOTHING = Screen(
    key="what-matters",
    step="What matters",
    claim="Nothing has been fitted yet",
    see=(said_open("What matters is open until results are in and fitted."),),
)
ALPHA = 0.05  # of the comparison of scales: the same as the 95 % intervals


def matters_screens(story: Story) -> tuple[Screen, ...]:
    """Return the screens of every outcome that was fitted, or why one could not be."""
    found: list[Screen] = []
    for place, (name, fit) in enumerate(story.fits):
        screens = (
            [_not_fitted(name, fit, place)]
            if isinstance(fit, Unavailable)
            else _outcome_screens(story, fit, place)
        )
        found += with_made(screens, made_fit(name))
    found += several_screens(story)
    return _with_trail(found)


def _outcome_screens(story: Story, fit: Fit, place: int) -> list[Screen]:
    name = fit.outcome.name
    found: list[Screen] = []
    own_lines = [one for one in story.lines if one.outcome.name == name]
    own_maps = [one for one in story.mean_maps if one.outcome.name == name]
    found += [_lines_screen(one, place, i) for i, one in enumerate(own_lines)]
    found.append(_effects_screen(story, fit, place))
    found += [_map_screen(one, place, i) for i, one in enumerate(own_maps)]
    found += shape_screens(story, name)
    found += again_screens(story, name, place)
    found.append(checks_screen(fit, place))
    return found


def _with_trail(screens: list[Screen]) -> tuple[Screen, ...]:
    """Return the screens, the first of which the trail leads to."""
    lead = screens[0] if screens else NOTHING
    return (replace(lead, key="what-matters", chapter="What matters"), *screens[1:])


def _not_fitted(name: str, why: Unavailable, place: int) -> Screen:
    return Screen(
        key=f"what-matters-{place}",
        step="What matters",
        claim=f"What moves {name} is open",
        say=("Its readings are on file; there is no fit of them.",),
        see=(said_open(sentence(why.reason)),),
    )


def _lines_screen(lines: Lines, place: int, i: int) -> Screen:
    effect = lines.effect
    number = effect_number(effect) if effect else ""
    size = "" if effect is None else f"{effect.name}, {effect.from_to}{_interval(effect)}"
    return Screen(
        key=f"together-{place}-{i}",
        step="What matters, together",
        claim=interaction_sentence(lines),
        say=(
            (
                f"So {lines.along.name} has no effect of its own to quote; it has one for each "
                f"setting of {lines.by.name}."
            ),
        )
        if interaction_sentence(lines).endswith(f" depends on {lines.by.name}")
        else (),
        number=number,
        number_of=size,
        check=f"If the lines ran side by side within their {percent(lines.confidence)} bands, "
        "the claim would fall.",
        see=(figure(f"lines-{place}-{i}", interaction(lines), interaction_caption(lines)),),
    )


def _effects_screen(story: Story, fit: Fit, place: int) -> Screen:
    lead = by_size(fit)[0] if fit.effects else None
    return Screen(
        key=f"effects-screen-{place}",
        step="What matters",
        claim=effects_sentence(fit),
        say=(*_model_words(fit), *fit.notes),
        number=effect_number(lead) if lead else "",
        number_of=f"{lead.name}, {lead.from_to}{_interval(lead)}" if lead else "",
        check=_effects_check(story, fit),
        see=_effects_see(story, fit, place),
    )


def _effects_see(story: Story, fit: Fit, place: int) -> tuple[Html, ...]:
    seen = []
    if fit.effects:
        seen.append(figure(f"effects-{place}", effects(fit), effects_caption(fit)))
    if fit.aliased:
        seen.append(aliases_table(fit))
    seen.append(effects_table(fit))
    other = _put_back(story, fit)
    if other is not None:
        seen.append(said_open(f"With the excluded runs put back: {_answer(other)}"))
        if not isinstance(other, Unavailable):
            title = "The same effects with the excluded runs put back"
            seen.append(folded(title, effects_table(other), printed=True))
    return tuple(seen)


def _map_screen(drawn: MeanMap, place: int, i: int) -> Screen:
    return Screen(
        key=f"mean-{place}-{i}",
        step="What matters, as a map",
        claim=mean_map_sentence(drawn),
        say=("The mean alone promises nothing about a single part; the window does that.",),
        check="Nothing is drawn outside the region that was run.",
        see=(figure(f"mean-map-{place}-{i}", contour_of_mean(drawn), mean_map_caption(drawn)),),
    )


def _model_words(fit: Fit) -> list[str]:
    settings = "settings as run" if fit.uses_as_run else "settings as planned"
    left_out = f"{fit.n_excluded or 'none'} left out"
    many = counted(int(np.unique(fit.run).size), "run")
    if not isinstance(fit, MeasuredFit):
        return [fit.model, f"From {many}, {settings}; {left_out}."]
    parts = "means of the parts of a run" if fit.part_scatter else "one reading a run"
    scale = "" if fit.outcome.scale == "as read" else f", on the {fit.outcome.scale} scale"
    return [f"From {many} ({parts}{scale}), {settings}; {left_out}."]


def _interval(effect: Effect) -> str:
    if isinstance(effect.estimate, Unavailable):
        return f"; {effect.estimate.reason}"
    found = with_interval(
        effect.value, effect.estimate.low, effect.estimate.high, is_ratio=effect.is_ratio
    )
    return f" (95\u00a0%: {found.interval})"


def _effects_check(story: Story, fit: Fit) -> str:
    other = _put_back(story, fit)
    said = []
    if other is not None:
        same = not isinstance(other, Unavailable) and _clear(other) == _clear(fit)
        said.append(
            "The same effects are clear with the excluded runs put back."
            if same
            else "With the excluded runs put back the answer changes: see both."
        )
    said.append(_scale_words(fit))
    again = next((one for one in story.asked_again if one.outcome == fit.outcome.name), None)
    if again is not None and again.sensitivity is not None and again.sensitivity.variants:
        said.append(sensitivity_sentence(again.sensitivity))
    return " ".join(one for one in said if one) or (
        "These runs offer no second look at the claim: repeat runs would."
    )


def _scale_words(fit: Fit) -> str:
    if not isinstance(fit, MeasuredFit):
        return ""
    lists = {
        check.scale: {name for name, p in check.p if not isinstance(p, Unavailable) and p < ALPHA}
        for check in fit.scale_checks
        if any(not isinstance(p, Unavailable) for _, p in check.p)
    }
    own = lists.pop(fit.outcome.scale, None)
    if own is None or not lists:
        return ""
    differing = [scale for scale, names in lists.items() if names != own]
    if not differing:
        others = listed(list(lists))
        return f"The same terms lead (p below 0.05) on every other scale tried: {others}."
    return (
        f"Which terms pass p 0.05 depends on the scale: others do on {listed(differing)}. "
        "Read what is not shared as open."
    )


def _put_back(story: Story, fit: Fit) -> Fit | Unavailable | None:
    for name, other in story.fits_with_excluded:
        if name == fit.outcome.name:
            return other
    return None


def _answer(other: Fit | Unavailable) -> str:
    return other.reason if isinstance(other, Unavailable) else effects_sentence(other)


def _clear(fit: Fit) -> set[str]:
    return {one.name for one in fit.effects if clarity(one, fit) is Clarity.CLEAR}
