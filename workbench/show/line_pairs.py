"""Interactions: whether one setting changes what another does."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import is_numeric
from workbench.show.canvas import framed, log_axis, new_figure, note, number_axis, rounded
from workbench.show.escape import label
from workbench.show.numbers import with_unit
from workbench.show.sentences import interaction_caption, interaction_sentence
from workbench.show.theme import LIGHT

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from workbench.define.factors import Factor
    from workbench.show.nouns import Lines

HUES = (LIGHT.low, LIGHT.high, LIGHT.run, LIGHT.centre, LIGHT.noise)
DASHES = ("dash", "solid", "dot", "dashdot", "longdash")
SIGNS = ("circle-open", "diamond-open", "square-open", "triangle-up-open", "x-thin-open")
ROOM = 0.045  # least distance of two labels, as a part of the height drawn


def interaction(lines: Lines) -> go.Figure:
    """Return a labelled line with its band for each setting of the other factor."""
    figure = new_figure()
    for i in range(len(lines.levels)):
        _add_band(figure, lines, i)
    for i in range(len(lines.levels)):
        _add_line(figure, lines, i)
        _add_runs(figure, lines, i)
    _label_lines(figure, lines)
    _label_axes(figure, lines)
    return framed(figure, interaction_sentence(lines), interaction_caption(lines), height=400)


def _add_band(figure: go.Figure, lines: Lines, i: int) -> None:
    there = rounded(lines.x)
    figure.add_scatter(
        x=there + there[::-1],
        y=rounded(lines.low[i]) + rounded(lines.high[i][::-1]),
        mode="lines",
        line={"width": 0},
        fill="toself",
        fillcolor=HUES[i % len(HUES)],
        opacity=0.16,
        hoverinfo="skip",
        name=f"band {i + 1}",
    )


def _add_line(figure: go.Figure, lines: Lines, i: int) -> None:
    figure.add_scatter(
        x=rounded(lines.x),
        y=rounded(lines.mean[i]),
        mode="lines",
        line={"width": 2.8, "color": HUES[i % len(HUES)], "dash": DASHES[i % len(DASHES)]},
        hoverinfo="x+y",
        name=label(lines.levels[i]),
    )


def _add_runs(figure: go.Figure, lines: Lines, i: int) -> None:
    runs = lines.runs
    if runs is None or runs.line is None or not (runs.line == i).any():
        return
    figure.add_scatter(
        x=rounded(runs.x[runs.line == i]),
        y=rounded(runs.y[runs.line == i]),
        mode="markers",
        marker={
            "size": 9,
            "symbol": SIGNS[i % len(SIGNS)],
            "color": HUES[i % len(HUES)],
            "line": {"width": 1.8},
        },
        hoverinfo="x+y",
        name=f"runs, {label(lines.levels[i])}",
        cliponaxis=False,
    )


def _label_lines(figure: go.Figure, lines: Lines) -> None:
    is_log = lines.outcome.scale == "log"
    ends = np.log10(lines.mean[:, -1]) if is_log else lines.mean[:, -1]
    spread = np.log10(lines.high / lines.low) if is_log else lines.high - lines.low
    heights = np.log10(lines.mean) if is_log else lines.mean
    tall = float(np.ptp(heights) + spread.max()) or 1.0
    for i, place in zip(np.argsort(ends), _apart(np.sort(ends), ROOM * tall), strict=True):
        note(
            figure,
            f"<b>{label(lines.levels[i])}</b>",
            x=1.02,
            xref="paper",
            y=place,
            xanchor="left",
            yanchor="middle",
            font={"color": LIGHT.ink},
        )


def _apart(places: np.ndarray, room: float) -> list[float]:
    """Return ascending places moved up so that each two are at least `room` apart."""
    moved = [float(places[0])]
    for before, now in pairwise(places):
        moved.append(max(float(now), moved[-1] + room if before is not None else float(now)))
    return moved


def _label_axes(figure: go.Figure, lines: Lines) -> None:
    axis = axis_title(lines.along)
    if is_numeric(lines.along):
        ends = float(lines.x[0]), float(lines.x[-1])
        figure.update_xaxes(title_text=axis, **number_axis(*ends))
    else:
        levels = getattr(lines.along, "levels", ())
        figure.update_xaxes(
            title_text=axis,
            tickvals=list(range(len(levels))),
            ticktext=[label(one) for one in levels],
        )
    unit = lines.outcome.unit
    title = label(lines.outcome.name) + (f", {label(unit)}" if unit else "")
    ends = float(lines.low.min()), float(lines.high.max())
    if lines.outcome.scale == "log":
        figure.update_yaxes(title_text=title, type="log", **log_axis(*ends))
    else:
        figure.update_yaxes(title_text=title, **number_axis(*ends))
    longest = max(len(one) for one in lines.levels)
    figure.update_layout(margin={"r": 48 + min(240, 9 * longest)})


def axis_title(factor: Factor) -> str:
    """Return a factor and its unit as the title of an axis, escaped."""
    return label(with_unit(factor.name + ("," if factor.unit else ""), factor.unit))
