"""The trade-off front as a figure: what more of one goal costs in another."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
from plotly.subplots import make_subplots

from workbench.show.canvas import framed, rounded
from workbench.show.escape import label
from workbench.show.theme import LIGHT, template

if TYPE_CHECKING:
    from collections.abc import Sequence

    import plotly.graph_objects as go
    from numpy.typing import NDArray

    from workbench.decide.set_points import SetPoint
    from workbench.decide.trade_off import Front

SIDE = 380
MOST_BEHIND = 1500  # settings behind the front that are drawn: their outline, not each
CAPTION = (
    "Filled: on the front and in the window. Hollow: on the front, outside the window. Grey dots: "
    "beaten in every goal by some other setting. Diamonds: set points. Fitted means alone: "
    "neither doubt nor scatter is drawn."
)


def trade_off(front: Front, points: Sequence[SetPoint] = ()) -> go.Figure:
    """Return one panel for each pair of goals: the front, what it beats, the set points."""
    pairs = list(combinations(range(len(front.goals)), 2))
    figure = make_subplots(rows=1, cols=len(pairs), horizontal_spacing=0.12)
    figure.update_layout(template=template(), showlegend=False)
    for k, (i, j) in enumerate(pairs, 1):
        _add_behind(figure, front, pair=(i, j), column=k)
        for inside in (False, True):
            _add_front(figure, front, pair=(i, j), column=k, inside=inside)
        _add_points(figure, front, points, pair=(i, j), column=k)
        figure.update_xaxes(title_text=_axis(front, i), row=1, col=k)
        figure.update_yaxes(title_text=_axis(front, j), row=1, col=k)
    figure.update_layout(width=max(640, SIDE * len(pairs)))
    return framed(figure, front_sentence(front), CAPTION, height=SIDE)


def front_sentence(front: Front) -> str:
    """Return what the front says, in a sentence."""
    inside = int(front.in_window.sum())
    names = " and ".join(one.words() for one in front.goals)
    if len(front) == 1:
        return f"One setting is best in all goals: {names}"
    window = f"; {inside} of them in the window" if inside else ""
    return f"{len(front)} settings trade {names} against one another{window}"


def _axis(front: Front, i: int) -> str:
    unit = front.units[i]
    goal = front.goals[i]
    way = f"target {goal.target:g}" if goal.target is not None else f"{goal.better} is better"
    return label(f"{goal.outcome}{f', {unit}' if unit else ''} ({way})")


def _add_behind(figure: go.Figure, front: Front, *, pair: tuple[int, int], column: int) -> None:
    step = max(1, -(-len(front.others) // MOST_BEHIND))
    behind = front.others[::step]
    figure.add_scatter(
        x=rounded(behind[:, pair[0]]),
        y=rounded(behind[:, pair[1]]),
        mode="markers",
        marker={"size": 3, "color": LIGHT.hair},
        hoverinfo="skip",
        name="beaten",
        row=1,
        col=column,
    )


def _add_front(
    figure: go.Figure, front: Front, *, pair: tuple[int, int], column: int, inside: bool
) -> None:
    rows = np.flatnonzero(front.in_window == inside)
    figure.add_scatter(
        x=rounded(front.means[rows, pair[0]]),
        y=rounded(front.means[rows, pair[1]]),
        mode="markers",
        marker={
            "size": 8,
            "color": LIGHT.meets if inside else LIGHT.paper,
            "line": {"width": 1.5, "color": LIGHT.meets},
        },
        hovertext=_hover(front, rows),
        hoverinfo="text",
        name="front, in the window" if inside else "front, outside the window",
        row=1,
        col=column,
    )


def _add_points(
    figure: go.Figure,
    front: Front,
    points: Sequence[SetPoint],
    *,
    pair: tuple[int, int],
    column: int,
) -> None:
    found = [(one.name, at) for one in points if (at := _means_at(front, one)) is not None]
    if not found:
        return
    figure.add_scatter(
        x=rounded([at[pair[0]] for _, at in found]),
        y=rounded([at[pair[1]] for _, at in found]),
        mode="markers+text",
        text=[label(name) for name, _ in found],
        textposition="top center",
        marker={"symbol": "diamond", "size": 11, "color": LIGHT.centre},
        hoverinfo="skip",
        cliponaxis=False,
        name="set points",
        row=1,
        col=column,
    )


def _means_at(front: Front, point: SetPoint) -> list[float] | None:
    by_name = {getattr(seen, "outcome", ""): seen for seen in point.foreseen}
    found = [getattr(by_name.get(goal.outcome), "mean", None) for goal in front.goals]
    return (
        None
        if any(one is None for one in found)
        else [float(one) for one in found if one is not None]
    )


def _hover(front: Front, rows: NDArray[np.intp]) -> list[str]:
    settings = front.settings.rows(rows).as_dicts()
    return [
        "<br>".join(
            label(f"{name} {at:.4g}" if isinstance(at, float) else f"{name} {at}")
            for name, at in row.items()
        )
        for row in settings
    ]
