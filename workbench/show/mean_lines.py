"""Contour of the mean: where the mean goes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.show.canvas import framed, new_figure, number_axis, round_ticks, rounded
from workbench.show.escape import label
from workbench.show.line_pairs import axis_title
from workbench.show.numbers import requirement, with_unit
from workbench.show.sentences import mean_map_caption, mean_map_sentence
from workbench.show.theme import LIGHT

if TYPE_CHECKING:
    from collections.abc import Callable

    import plotly.graph_objects as go
    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.show.nouns import MeanMap, Runs

N_LINES = 6
HATCH = 26  # marks along each side of the map


def contour_of_mean(drawn: MeanMap) -> go.Figure:
    """Return lines of equal mean, labelled, thicker as it grows; the requirement as a wall."""
    figure = new_figure()
    mean = np.where(drawn.inside, drawn.mean, np.nan)
    levels = nice_levels(mean)
    for place, level in enumerate(levels):
        width = 1.2 + 2.2 * place / max(1, len(levels) - 1)
        _add_level(figure, drawn, (mean, level), line={"width": width, "color": LIGHT.ink})
    _add_wall(figure, drawn, mean)
    add_runs(figure, drawn.runs)
    map_axis(figure.update_xaxes, drawn.x_factor, drawn.x)
    map_axis(figure.update_yaxes, drawn.y_factor, drawn.y)
    figure.update_layout(width=700)
    return framed(figure, mean_map_sentence(drawn), mean_map_caption(drawn), height=470)


def nice_levels(mean: NDArray[np.float64]) -> list[float]:
    """Return about six round numbers inside the range of a map (ny, nx); none if it is flat."""
    seen = mean[np.isfinite(mean)]
    if seen.size == 0 or np.ptp(seen) <= 1e-12 * max(1.0, float(np.abs(seen).max())):
        return []
    low, high = float(seen.min()), float(seen.max())
    return [one for one in round_ticks(low, high, about=N_LINES) if low < one < high]


def _add_level(
    figure: go.Figure,
    drawn: MeanMap,
    at: tuple[NDArray[np.float64], float],
    *,
    line: dict[str, object],
) -> None:
    mean, level = at
    figure.add_contour(
        x=rounded(drawn.x),
        y=rounded(drawn.y),
        z=[rounded(row) for row in mean],
        contours={
            "start": level,
            "end": level,
            "size": 1.0,
            "coloring": "none",
            "showlabels": True,
            "labelfont": {"size": 14, "color": line["color"]},
        },
        line=line | {"smoothing": 0},
        showscale=False,
        hoverinfo="skip",
        name=f"{level:g}",
    )


def _add_wall(figure: go.Figure, drawn: MeanMap, mean: NDArray[np.float64]) -> None:
    limits = drawn.outcome.requirement
    if limits is None:
        return
    fails = np.zeros(mean.shape, dtype=bool)
    for end, sign in ((limits.low, -1.0), (limits.high, 1.0)):
        if end is not None:
            fails |= np.nan_to_num(sign * (mean - end), nan=-1.0) > 0
            _add_level(figure, drawn, (mean, end), line={"width": 3, "color": LIGHT.limit})
    _add_hatch(figure, drawn, fails)


def _add_hatch(figure: go.Figure, drawn: MeanMap, fails: NDArray[np.bool_]) -> None:
    if not fails.any():
        return
    x_step = max(1, round(drawn.x.size / HATCH))
    y_step = max(1, round(drawn.y.size / HATCH))
    shown = np.zeros_like(fails)
    shown[::y_step, ::x_step] = True
    rows, columns = np.nonzero(fails & shown)
    limits = drawn.outcome.requirement
    words = with_unit(requirement(limits), drawn.outcome.unit) if limits else ""
    figure.add_scatter(
        x=rounded(drawn.x[columns]),
        y=rounded(drawn.y[rows]),
        mode="markers",
        marker={
            "symbol": "line-ne-open",
            "size": 9,
            "color": LIGHT.limit,
            "opacity": 0.55,
            "line": {"width": 1.2},
        },
        text=f"mean fails: asked {label(words)}",
        hoverinfo="text",
        name="fails",
    )


def add_runs(figure: go.Figure, runs: Runs | None) -> None:
    """Draw runs as hollow circles on paper, those beyond the axes as well."""
    if runs is None or runs.x.size == 0:
        return
    figure.add_scatter(
        x=rounded(runs.x),
        y=rounded(runs.y),
        mode="markers",
        marker={
            "size": 9,
            "color": LIGHT.paper,
            "line": {"width": 2, "color": LIGHT.run},
        },
        hoverinfo="x+y",
        cliponaxis=False,
        name="runs",
    )


def map_axis(update: Callable[..., object], factor: Factor, places: NDArray[np.float64]) -> None:
    """Give a map's axis its factor, its ends and round ticks, without a grid."""
    ends = float(places[0]), float(places[-1])
    update(title_text=axis_title(factor), range=list(ends), showgrid=False, **number_axis(*ends))
