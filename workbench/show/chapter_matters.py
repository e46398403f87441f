"""What matters: a chapter for each outcome, what depends on what before averages."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from workbench.errors import Unavailable
from workbench.show.clarity import Clarity, clarity
from workbench.show.effect_rows import effects
from workbench.show.fit_tables import aliases_table, effects_table, summary_table, tests_table
from workbench.show.line_pairs import interaction
from workbench.show.mean_lines import contour_of_mean
from workbench.show.numbers import percent, with_interval
from workbench.show.page import Screen, described, figure, folded, said_open
from workbench.show.residuals import residuals_by_fitted, residuals_in_order
from workbench.show.scatter_line import half_normal
from workbench.show.sentences import (
    by_size,
    effect_number,
    effects_caption,
    effects_sentence,
    interaction_caption,
    interaction_sentence,
    mean_map_caption,
    mean_map_sentence,
    order_sentence,
)
from workbench.show.words import counted, listed, sentence

if TYPE_CHECKING:
    from workbench.fit.measured import MeasuredFit
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
        if isinstance(fit, Unavailable):
            found.append(_not_fitted(name, fit, place))
            continue
        own_lines = [one for one in story.lines if one.outcome.name == name]
        own_maps = [one for one in story.mean_maps if one.outcome.name == name]
        found += [_lines_screen(one, place, i) for i, one in enumerate(own_lines)]
        found.append(_effects_screen(story, fit, place))
        found += [_map_screen(one, place, i) for i, one in enumerate(own_maps)]
        found.append(_checks_screen(fit, place))
    return _with_trail(found)


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


def _effects_screen(story: Story, fit: MeasuredFit, place: int) -> Screen:
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


def _effects_see(story: Story, fit: MeasuredFit, place: int) -> tuple[Html, ...]:
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


def _checks_screen(fit: MeasuredFit, place: int) -> Screen:
    made = [("order", residuals_in_order(fit)), ("fitted", residuals_by_fitted(fit))]
    if len(fit.effects) > 2:
        made.append(("half-normal", half_normal(fit)))
    drawn = [figure(f"{key}-{place}", one, described(one)) for key, one in made]
    return Screen(
        key=f"checks-{place}",
        step=f"Checks of {fit.outcome.name}",
        claim=order_sentence(fit),
        say=("A model is only as good as what it leaves over.",),
        number=str(fit.error_df),
        number_of="error degrees of freedom behind each interval",
        check=_lack_words(fit),
        see=(
            *drawn,
            summary_table(fit),
            folded("Tests of each term", tests_table(fit)),
        ),
    )


def _model_words(fit: MeasuredFit) -> list[str]:
    settings = "settings as run" if fit.uses_as_run else "settings as planned"
    parts = "means of the parts of a run" if fit.part_scatter else "one reading a run"
    scale = "" if fit.outcome.scale == "as read" else f", on the {fit.outcome.scale} scale"
    return [
        (
            f"From {counted(len(fit.run), 'run')} ({parts}{scale}), {settings}; "
            f"{fit.n_excluded or 'none'} left out."
        )
    ]


def _interval(effect: Effect) -> str:
    if isinstance(effect.estimate, Unavailable):
        return f"; {effect.estimate.reason}"
    found = with_interval(
        effect.value, effect.estimate.low, effect.estimate.high, is_ratio=effect.is_ratio
    )
    return f" (95\u00a0%: {found.interval})"


def _effects_check(story: Story, fit: MeasuredFit) -> str:
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
    return " ".join(one for one in said if one) or (
        "These runs offer no second look at the claim: repeat runs would."
    )


def _scale_words(fit: MeasuredFit) -> str:
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


def _put_back(story: Story, fit: MeasuredFit) -> MeasuredFit | Unavailable | None:
    for name, other in story.fits_with_excluded:
        if name == fit.outcome.name:
            return other
    return None


def _answer(other: MeasuredFit | Unavailable) -> str:
    return other.reason if isinstance(other, Unavailable) else effects_sentence(other)


def _clear(fit: MeasuredFit) -> set[str]:
    return {one.name for one in fit.effects if clarity(one, fit) is Clarity.CLEAR}


def _lack_words(fit: MeasuredFit) -> str:
    lack = fit.lack_of_fit
    if isinstance(lack, Unavailable):
        return f"Whether the model bends as the process does is open: {lack.reason}"
    if lack.p < ALPHA:
        return "Runs at equal settings agree better than the model does: it lacks a term."
    return "The model misses the runs no more than runs at equal settings miss one another."
