"""What more assurance costs: the size of the window at each confidence."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.decide.windows import NoWindow
from workbench.show.canvas import framed, new_figure, note, number_axis, rounded
from workbench.show.numbers import percent, short
from workbench.show.theme import LIGHT

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from workbench.decide import AssuranceCurve, AssurancePoint

HEIGHT = 300
ROOM = 1.25  # above the largest window, for its label
CAPTION = (
    "Size of the window (product of its sides) at each confidence, the same share and the same "
    "draws. Filled: computed; diamond: as asked; cross: no window. Nothing is computed between."
)


def assurance_marks(found: AssuranceCurve) -> go.Figure:
    """Return a mark for the window at each confidence, the asked one a diamond."""
    figure = new_figure()
    for one in found.points:
        _add(figure, one, is_asked=one.confidence == found.asked)
    top = ROOM * max((one.volume for one in found.points), default=0.0) or 1.0
    ends = [one.confidence for one in found.points]
    figure.update_xaxes(
        title_text="confidence asked",
        tickvals=ends,
        ticktext=[percent(one) for one in ends],
        range=[ends[0] - 0.02, ends[-1] + 0.02],
    )
    figure.update_yaxes(
        title_text="size of the window", range=[-0.08 * top, top], **number_axis(0.0, top, about=4)
    )
    figure.update_layout(showlegend=False)
    return framed(figure, assurance_sentence(found), CAPTION, height=HEIGHT)


def assurance_sentence(found: AssuranceCurve) -> str:
    """Return what more assurance costs, in a sentence."""
    first, last = found.points[0], found.points[-1]
    if first.volume == 0:
        return f"Even with {percent(first.confidence)} confidence there is no window"
    if last.volume == 0:
        most = max(one.confidence for one in found.points if one.volume)
        return f"There is a window up to {percent(most)} confidence, none at more"
    left = round(last.volume / first.volume, 2)
    return (
        f"With {percent(last.confidence)} confidence the window is {percent(left)} of its size "
        f"with {percent(first.confidence)}"
    )


def _add(figure: go.Figure, one: AssurancePoint, *, is_asked: bool) -> None:
    is_none = isinstance(one.window, NoWindow)
    symbol = "x-thin" if is_none else "diamond" if is_asked else "circle"
    hue = LIGHT.fails if is_none else LIGHT.ink if is_asked else LIGHT.meets
    figure.add_scatter(
        x=rounded([one.confidence]),
        y=rounded([one.volume]),
        mode="markers",
        marker={
            "symbol": symbol,
            "size": 14 if is_asked else 11,
            "color": hue,
            "line": {"width": 2.5 if is_none else 0, "color": hue},
        },
        hoverinfo="skip",
        name=percent(one.confidence),
    )
    words = "no window" if is_none else short(one.volume, 2)
    note(
        figure,
        f"{words}, as asked" if is_asked else words,
        x=one.confidence,
        y=one.volume,
        yshift=18,
        xanchor="right" if is_asked else "center",
        font={"size": 13, "color": LIGHT.ink},
    )
