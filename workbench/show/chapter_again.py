"""What matters, asked again: in other ways, of the scatter, of the shape, of several outcomes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.errors import Unavailable
from workbench.fit.scatter import ScatterFit
from workbench.fit.together import pulled_apart
from workbench.show.asked_again import selection_table, sensitivity_sentence, sensitivity_table
from workbench.show.effect_rows import spread_effects
from workbench.show.fit_tables import spread_table
from workbench.show.page import Screen, figure, folded, said_open
from workbench.show.several import several_tables, trade_offs_sentence
from workbench.show.shape_tables import axes_table, level_point_table, level_sentence
from workbench.show.spread_words import spread_caption, spread_sentence

if TYPE_CHECKING:
    from workbench.fit.selection import Selection
    from workbench.fit.sensitivity import Sensitivity
    from workbench.show.escape import Html
    from workbench.show.story import AskedAgain, Several, Shape, Story


def again_screens(story: Story, name: str, place: int) -> tuple[Screen, ...]:
    """Return whether the conclusion on one outcome survives, and what changes its scatter."""
    found = next((one for one in story.asked_again if one.outcome == name), None)
    if found is None:
        return ()
    screens = []
    if found.sensitivity is not None and _says_more(found, found.sensitivity):
        outside = [one for one in story.shapes if one.outcome == name and not one.point.is_inside]
        screens.append(_sensitivity(found, found.sensitivity, (place, outside)))
    if isinstance(found.spread, ScatterFit) and not found.spread.is_hint:
        screens.append(_spread(found.spread, place))
    return tuple(screens)


def shape_screens(story: Story, name: str) -> tuple[Screen, ...]:
    """Return where the fit of one outcome is level within the ranges tried, level by level."""
    return tuple(
        _shape(one, i)
        for i, one in enumerate(story.shapes)
        if one.outcome == name and one.point.is_inside
    )


def several_screens(story: Story) -> tuple[Screen, ...]:
    """Return what settings do to several outcomes at once."""
    found = story.several
    return () if found is None or not found.trade_offs else (_several(found),)


def _says_more(found: AskedAgain, said: Sensitivity) -> bool:
    """Return whether a screen says more than the counter-check of the effects says already."""
    many = len(said.variants) > 1 or not all(one.agrees for one in said.variants)
    return many or found.selection is not None


def _sensitivity(found: AskedAgain, said: Sensitivity, located: tuple[int, list[Shape]]) -> Screen:
    place, outside = located
    survived = sum(one.agrees for one in said.variants)
    return Screen(
        key=f"again-{place}",
        step=f"What matters in {found.outcome}, asked again",
        claim=sensitivity_sentence(said).removesuffix("."),
        say=(
            "Each line asks the same runs in another way that somebody could defend.",
            *_hint_words(found),
            *(f"{level_sentence(one.point, one.outcome)}{_at(one)}." for one in outside),
        ),
        number=f"{survived} of {len(said.variants)}" if said.variants else "",
        number_of="other ways of asking give the same effects in the same directions",
        check=_selection_words(found.selection),
        check_lead="Ranking of terms.",
        see=(
            *((sensitivity_table(said),) if said.variants else ()),
            *_selection(found.selection),
        ),
    )


def _hint_words(found: AskedAgain) -> tuple[str, ...]:
    spread = found.spread
    if isinstance(spread, ScatterFit) and spread.is_hint:
        return (f"{spread_sentence(spread)}.",)
    return ()


def _selection_words(found: Selection | Unavailable | None) -> str:
    if found is None:
        return ""
    if isinstance(found, Unavailable):
        return f"Terms are not ranked: {found.reason}."
    return found.words()


def _selection(found: Selection | Unavailable | None) -> tuple[Html, ...]:
    if found is None or isinstance(found, Unavailable):
        return ()
    return (folded("Which terms the runs ask for", selection_table(found)),)


def _spread(found: ScatterFit, place: int) -> Screen:
    drawn = (
        (figure(f"spread-{place}", spread_effects(found), spread_caption(found)),)
        if found.effects
        else ()
    )
    return Screen(
        key=f"scatter-{place}",
        step=f"What changes the scatter of {found.outcome.name}",
        claim=spread_sentence(found),
        say=found.notes,
        check="One part that reads far off can make a whole setting look uneven: look at it "
        "before acting on this.",
        see=(*drawn, spread_table(found)),
    )


def _at(found: Shape) -> str:
    at = ", ".join(f"{factor} {level}" for factor, level in found.levels)
    return f" (at {at})" if at else ""


def _shape(found: Shape, i: int) -> Screen:
    point = found.point
    open_words = [
        said_open(one.reason[:1].upper() + one.reason[1:] + ".")
        for one in (point.possible_low,)
        if isinstance(one, Unavailable)
    ]
    return Screen(
        key=f"shape-{i}",
        step=f"What matters, the shape{_at(found)}",
        claim=level_sentence(point, found.outcome),
        say=("Where the mean stops changing, small drifts of the settings cost least.",),
        check="The region in the table holds every setting within the ranges tried that scatter "
        "(95\u00a0%) allows to be level: if it is wide, the point is not known.",
        see=(level_point_table(point), *open_words, axes_table(point)),
    )


def _several(found: Several) -> Screen:
    torn = pulled_apart(found.trade_offs)
    open_ones = [one for one in found.trade_offs if one.verdict == "open"]
    return Screen(
        key="several",
        step="What matters, several outcomes at once",
        claim=trade_offs_sentence(found.trade_offs),
        say=("More of a setting: from its low to its high end, the others in the middle.",),
        number=str(len(torn)),
        number_of="setting that helps one outcome and hurts another"
        if len(torn) == 1
        else "settings that help one outcome and hurt another",
        check=f"{len(open_ones)} of {len(found.trade_offs)} are open: each could still turn out "
        "either way."
        if open_ones
        else "No main effect is open.",
        see=several_tables(found.trade_offs, found.shared),
    )
