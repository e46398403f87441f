"""The alias map: which effects cannot be told apart, plans side by side."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import PlanError
from workbench.show.canvas import framed, new_figure, note, rounded
from workbench.show.escape import label
from workbench.show.numbers import fixed
from workbench.show.theme import LIGHT
from workbench.show.words import counted, listed, sentence, spelled

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import plotly.graph_objects as go
    from numpy.typing import NDArray

    from workbench.define.terms import Term
    from workbench.plan.mixing import Mixing

WORTH_DRAWING = 0.25  # smaller overlaps are said by the largest one
ROW = 24
PLAN_WIDTH = 430
POINTS = 25  # of an arc
LONGEST = 0.72  # how far the longest arc bends out; a column is 2 wide


@dataclass(frozen=True, slots=True, kw_only=True)
class _Column:
    """A plan in the map: where its column stands, and in which row each effect."""

    name: str
    mixed: Mixing
    left: float
    place: dict[Term, int]


def alias_map(mixed: Mapping[str, Mixing], terms: Sequence[Term]) -> go.Figure:
    """Return the effects in a column for each plan, arcs between those that share information.

    `mixed` holds what each plan mixes, under its name; `terms` are the effects in the column. A
    thick violet arc is one number for both; a thin dotted one an overlap above 0.25.

    Raises
    ------
    PlanError
        If there is no plan or no effect to draw.
    """
    if not mixed or not terms:
        raise PlanError(
            "There is no plan or no effect to draw.",
            why="The map joins effects of plans.",
            next_step="Give one or more plans and their effects.",
        )
    figure = new_figure()
    place = {one: len(terms) - 1 - i for i, one in enumerate(terms)}
    for at, (name, one) in enumerate(mixed.items()):
        _add_plan(figure, _Column(name=name, mixed=one, left=2.0 * at, place=place))
    figure.update_layout(width=max(640, 40 + PLAN_WIDTH * len(mixed)), margin={"l": 16, "r": 16})
    figure.update_xaxes(visible=False, range=[-1.0, 2 * len(mixed) - 0.9])
    figure.update_yaxes(visible=False, range=[-1.6, len(terms) + 1.2])
    return framed(
        figure,
        alias_sentence(mixed),
        "An arc joins two effects that share information: thick = one number for both, "
        "thin dotted = overlap above 0.25.",
        height=80 + ROW * len(terms),
    )


def alias_sentence(mixed: Mapping[str, Mixing]) -> str:
    """Return in a sentence what the plans cannot tell apart."""
    if len(mixed) == 1:
        return sentence(_told(next(iter(mixed.values()))))
    clear = [name for name, one in mixed.items() if not one.groups]
    others = [name for name, one in mixed.items() if one.groups]
    if not others:
        return "In none of these plans are two effects one number"
    if not clear:
        return "In each of these plans some effects are one number"
    return f"In {listed(others)} some effects are one number; in {listed(clear)} no two are"


def _told(one: Mixing) -> str:
    if not one.groups:
        return "no two effects are one number"
    in_all = sum(len(group) for group in one.groups)
    groups = f"{spelled(len(one.groups))} number{'s' if len(one.groups) > 1 else ''}"
    return f"{counted(in_all, 'effect')} share {groups}"


def _add_plan(figure: go.Figure, plan: _Column) -> None:
    whole = {one for group in plan.mixed.groups for one in group if one in plan.place}
    _add_arcs(figure, plan)
    for one, y in plan.place.items():
        written = label(str(one))
        note(
            figure,
            f"<b>{written}</b>" if one in whole else written,
            x=plan.left - 0.04,
            y=y,
            xanchor="right",
            yanchor="middle",
            font={"size": 13},
        )
    for is_mixed, sign, hue in ((False, "circle-open", LIGHT.ink), (True, "square", LIGHT.unsure)):
        chosen = [one for one in plan.place if (one in whole) is is_mixed]
        figure.add_scatter(
            x=[plan.left] * len(chosen),
            y=[plan.place[one] for one in chosen],
            mode="markers",
            marker={"size": 8, "symbol": sign, "color": hue, "line": {"width": 1.5, "color": hue}},
            text=[label(str(one)) for one in chosen],
            hoverinfo="text",
            name=f"{label(plan.name)}: {'one number for several' if is_mixed else 'own number'}",
        )
    _add_words(figure, f"<b>{label(plan.name)}</b>", plan.left, y=len(plan.place) + 0.4, size=14)
    _add_words(figure, _largest(plan.mixed, plan.place), plan.left, y=-1.1, size=13)


def _add_words(figure: go.Figure, words: str, left: float, *, y: float, size: int) -> None:
    place = {"x": left - 0.9, "y": y, "xanchor": "left", "yanchor": "middle"}
    hue = LIGHT.quiet if y < 0 else LIGHT.ink
    note(figure, words, **place, font={"size": size, "color": hue})


def _add_arcs(figure: go.Figure, plan: _Column) -> None:
    whole = [pair for group in plan.mixed.groups for pair in pairwise(group)]
    partly = [(o.one, o.other) for o in plan.mixed.partly if abs(o.size) > WORTH_DRAWING]
    for pairs, line, name in (
        (partly, {"width": 1, "color": LIGHT.noise, "dash": "dot"}, "overlap above 0.25"),
        (whole, {"width": 3.5, "color": LIGHT.unsure}, "one number for both"),
    ):
        drawn = [_arc(plan, a, b) for a, b in pairs if a in plan.place and b in plan.place]
        if drawn:
            x, y = np.concatenate(drawn, axis=1)
            figure.add_scatter(
                x=rounded(x), y=rounded(y), mode="lines", line=line, hoverinfo="skip", name=name
            )


def _arc(plan: _Column, one: Term, other: Term) -> NDArray[np.float64]:
    """Return half an ellipse (2, m) from one row to another, further out the longer it is."""
    ends = plan.place[one], plan.place[other]
    half = abs(ends[0] - ends[1]) / 2
    reach = 0.08 + LONGEST * 2 * half / max(len(plan.place) - 1, 1)
    turn = np.linspace(-math.pi / 2, math.pi / 2, POINTS)
    x = plan.left + 0.03 + reach * np.cos(turn)
    y = sum(ends) / 2 + half * np.sin(turn)
    gap = np.full((2, 1), np.nan)  # so that the next arc is a line of its own
    return np.hstack([np.vstack([x, y]), gap])


def _largest(mixed: Mixing, place: dict[Term, int]) -> str:
    sizes = [abs(o.size) for o in mixed.partly if o.one in place and o.other in place]
    if not sizes or max(sizes) < 0.005:
        return "no overlap besides" if mixed.groups else "no overlap at all"
    many = sum(size > WORTH_DRAWING for size in sizes)
    drawn = f", {many} drawn" if many else ", none drawn"
    return f"largest overlap of two that can be told apart: {fixed(max(sizes), 2)}{drawn}"
