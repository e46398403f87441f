"""What stands beside the window: what assurance costs, what changes would buy."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.decide.windows import NoWindow
from workbench.errors import Unavailable
from workbench.show.assurance_marks import CAPTION, assurance_marks, assurance_sentence
from workbench.show.html_tables import html_table, name, number
from workbench.show.numbers import fixed, limit_decimals, percent, short
from workbench.show.page import Screen, figure

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.decide import AssuranceCurve, Lever, WhatIf
    from workbench.decide.windows import Window
    from workbench.show.escape import Html
    from workbench.show.story import Story


def beside_screens(story: Story) -> tuple[Screen, ...]:
    """Return the screens that were asked for beside the window."""
    found = []
    if story.assurance is not None:
        found.append(_assurance(story.assurance))
    if story.what_if is not None:
        found.append(_what_if(story.what_if))
    return tuple(found)


def assurance_table(found: AssuranceCurve) -> Html:
    """Return the sides of the window at each confidence."""
    known = [one.window for one in found.points if not isinstance(one.window, NoWindow)]
    factors = [limit.factor for limit in known[0].limits] if known else []
    columns = [
        name("confidence"),
        number("size"),
        *(number(f"{one.name}, {one.unit}" if one.unit else one.name) for one in factors),
    ]
    rows = [
        (
            f"{percent(one.confidence)}{', as asked' if one.confidence == found.asked else ''}",
            "no window" if isinstance(one.window, NoWindow) else short(one.volume, 2),
            *_sides(one.window, known, len(factors)),
        )
        for one in found.points
    ]
    return html_table("The window at each confidence", columns, rows)


def levers_table(found: WhatIf) -> Html:
    """Return what each change alone would make of the window."""
    rows = [(one.change, _times(one)) for one in found.levers]
    return html_table(
        "One change at a time", [name("change"), number("window, times as large")], rows
    )


def _assurance(found: AssuranceCurve) -> Screen:
    return Screen(
        key="window-assurance",
        step="Window, what assurance costs",
        claim=assurance_sentence(found),
        say=(f"The share is {percent(found.share)} of new parts; only the confidence changes.",),
        check="All sizes come from the same draws of the same fits; only the search differs.",
        see=(
            figure("assurance", assurance_marks(found), CAPTION),
            assurance_table(found),
        ),
    )


def _what_if(found: WhatIf) -> Screen:
    return Screen(
        key="window-what-if",
        step="Window, what would widen it",
        claim=found.sentence.rstrip("."),
        say=(
            "Each setting error halved, each scatter reduced by a quarter, all else as it is.",
            *found.notes,
        ),
        check="Fewer draws than behind the window itself: differences below a twentieth are "
        "within their noise.",
        see=(levers_table(found),),
    )


def _sides(one: Window | NoWindow, known: Sequence[Window], count: int) -> tuple[str, ...]:
    """Return the sides in words, each column with the decimals that its finest number needs."""
    if isinstance(one, NoWindow):
        return ("",) * count
    said = []
    for j, limit in enumerate(one.limits):
        ends = [end for each in known for end in (each.limits[j].low, each.limits[j].high)]
        decimals = limit_decimals(limit.factor, ends)
        said.append(f"{fixed(limit.low, decimals)} to {fixed(limit.high, decimals)}")
    return tuple(said)


def _times(one: Lever) -> str:
    if isinstance(one.window, NoWindow):
        return "no window"
    if isinstance(one.times, Unavailable):
        return "a window"
    return fixed(one.times, 2)
