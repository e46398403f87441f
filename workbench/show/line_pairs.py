"""Interactions: whether one setting changes what another does."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import is_numeric
from workbench.define.outcomes import Measured
from workbench.show.canvas import (
    framed,
    lines_of,
    log_axis,
    new_figure,
    note,
    number_axis,
    rounded,
)
from workbench.show.escape import label
from workbench.show.measures import is_share, measure
from workbench.show.numbers import with_unit
from workbench.show.run_marks import BEYOND, legend_above, sizes
from workbench.show.sentences import interaction_caption, interaction_sentence
from workbench.show.theme import LIGHT

if TYPE_CHECKING:
    import plotly.graph_objects as go
    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.show.nouns import Lines, Runs

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
    there, times = rounded(lines.x), measure(lines.outcome).times
    figure.add_scatter(
        x=there + there[::-1],
        y=rounded(times * lines.low[i]) + rounded(times * lines.high[i][::-1]),
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
        y=rounded(measure(lines.outcome).times * lines.mean[i]),
        mode="lines",
        line={"width": 2.8, "color": HUES[i % len(HUES)], "dash": DASHES[i % len(DASHES)]},
        hoverinfo="x+y",
        name=label(lines.levels[i]),
    )


def _add_runs(figure: go.Figure, lines: Lines, i: int) -> None:
    runs = lines.runs
    if runs is None or runs.line is None:
        return
    own = runs.line == i
    mark = np.zeros(own.size, dtype=np.int64) if runs.mark is None else runs.mark
    if (own & (mark == 0)).any():
        _add_group(figure, lines, (i, own & (mark == 0), SIGNS[i % len(SIGNS)]))
    for side, symbol, name in BEYOND:
        if (own & (mark == side)).any():
            _add_group(figure, lines, (i, own & (mark == side), f"{symbol}-open"))
            # One entry for all lines: their colours say which, and a row has room for no more.
            named = any(one.name == name for one in figure.data)
            figure.data[-1].update(name=name, showlegend=not named)
            legend_above(figure)


def _add_group(figure: go.Figure, lines: Lines, drawn: tuple[int, NDArray[np.bool_], str]) -> None:
    i, own, symbol = drawn
    runs = lines.runs
    if runs is None:
        return
    figure.add_scatter(
        x=rounded(runs.x[own]),
        y=rounded(measure(lines.outcome).times * runs.y[own]),
        mode="markers",
        marker={
            "size": 9 if runs.parts is None else np.array(sizes(runs.parts))[own].tolist(),
            "symbol": symbol,
            "color": HUES[i % len(HUES)],
            "line": {"width": 1.8},
            "opacity": 1,
        },
        text=_behind(runs, own),
        hoverinfo="x+y" if runs.parts is None else "x+y+text",
        name=f"runs, {label(lines.levels[i])}",
        cliponaxis=False,
    )


def _behind(runs: Runs, own: NDArray[np.bool_]) -> list[str] | None:
    if runs.parts is None:
        return None
    return [f"{many:g} part{'' if many == 1 else 's'}" for many in runs.parts[own]]


def _label_lines(figure: go.Figure, lines: Lines) -> None:
    drawn = measure(lines.outcome)
    mean, low, high = (drawn.times * one for one in (lines.mean, lines.low, lines.high))
    ends = np.log10(mean[:, -1]) if drawn.is_log else mean[:, -1]
    spread = np.log10(high / low) if drawn.is_log else high - low
    heights = np.log10(mean) if drawn.is_log else mean
    tall = 120.0 if is_share(lines.outcome) else float(np.ptp(heights) + spread.max()) or 1.0
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
    _label_mean(figure, lines)
    longest = max(len(one) for one in lines.levels)
    figure.update_layout(margin={"r": 48 + min(240, 9 * longest)})


def _label_mean(figure: go.Figure, lines: Lines) -> None:
    drawn = measure(lines.outcome)
    name = lines.outcome.name if isinstance(lines.outcome, Measured) else drawn.mean
    title = "<br>".join(label(one) for one in lines_of(name, 44))
    title += f", {label(drawn.unit)}" if drawn.unit else ""
    ends = drawn.times * float(lines.low.min()), drawn.times * float(lines.high.max())
    if drawn.is_log:
        figure.update_yaxes(title_text=title, type="log", **log_axis(*ends))
    elif is_share(lines.outcome):
        figure.update_yaxes(title_text=title, range=[-4, 104], **number_axis(0, 100, about=5))
    else:
        figure.update_yaxes(title_text=title, **number_axis(*ends))


def axis_title(factor: Factor) -> str:
    """Return a factor and its unit as the title of an axis, escaped."""
    return label(with_unit(factor.name + ("," if factor.unit else ""), factor.unit))
