"""Precision: where a plan will know the mean well enough."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.show.canvas import framed, new_figure, rounded
from workbench.show.mean_lines import HATCH, add_runs, map_axis, nice_levels
from workbench.show.numbers import percent, short, with_unit
from workbench.show.theme import LIGHT

if TYPE_CHECKING:
    import plotly.graph_objects as go
    from numpy.typing import NDArray

    from workbench.define.factors import Numeric
    from workbench.show.nouns import Runs


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HalfWidthMap:
    """Half-width (ny, nx) of the 95 % interval of a mean, in the outcome's unit or as a ratio.

    `needed` is the half-width that would do (None: nobody said), `sd` the scatter assumed;
    `held` says where the other factors stand; `runs` are the settings that are to be run.
    """

    outcome: str
    unit: str
    is_ratio: bool
    sd: float
    needed: float | None
    x_factor: Numeric
    y_factor: Numeric
    x: NDArray[np.float64]
    y: NDArray[np.float64]
    half_width: NDArray[np.float64]
    held: str
    runs: Runs | None = None

    def __post_init__(self) -> None:
        for array in (self.x, self.y, self.half_width):
            array.setflags(write=False)


def precision_lines(drawn: HalfWidthMap) -> go.Figure:
    """Return lines of equal half-width; the needed one violet, marked where it is not reached."""
    figure = new_figure()
    for level in nice_levels(drawn.half_width):
        _add_level(figure, drawn, level, line={"width": 1.2, "color": LIGHT.ink})
    if drawn.needed is not None:
        _add_level(figure, drawn, drawn.needed, line={"width": 3.5, "color": LIGHT.unsure})
        _add_poorly_known(figure, drawn, drawn.needed)
    add_runs(figure, drawn.runs)
    map_axis(figure.update_xaxes, drawn.x_factor, drawn.x)
    map_axis(figure.update_yaxes, drawn.y_factor, drawn.y)
    figure.update_layout(width=700)
    return framed(figure, precision_sentence(drawn), _caption(drawn), height=470)


def precision_sentence(drawn: HalfWidthMap) -> str:
    """Return how well the mean will be known over the map."""
    worst = _size(drawn, float(drawn.half_width.max()))
    if drawn.needed is None:
        best = _size(drawn, float(drawn.half_width.min()))
        return f"The mean of {drawn.outcome} will be known to within {best} to {worst}"
    needed = _size(drawn, drawn.needed)
    share = float((drawn.half_width <= drawn.needed).mean())
    if share == 1:
        return f"The mean of {drawn.outcome} will be known to within {needed} everywhere"
    if share == 0:
        return f"The mean of {drawn.outcome} will be known to within {needed} nowhere"
    return (
        f"The mean of {drawn.outcome} will be known to within {needed} in "
        f"{percent(round(share, 2))} of this map"
    )


def _caption(drawn: HalfWidthMap) -> str:
    held = f", at {drawn.held}" if drawn.held else ""
    needed = (
        ""
        if drawn.needed is None
        else " Violet: half of what is worth finding; strokes: less well known. "
    )
    return (
        f"Half-width of the 95 % interval of the mean{held}, if runs scatter by "
        f"{_size(drawn, drawn.sd)}.{needed.rstrip()} Circles: runs."
    )


def _add_level(
    figure: go.Figure, drawn: HalfWidthMap, level: float, *, line: dict[str, object]
) -> None:
    figure.add_contour(
        x=rounded(drawn.x),
        y=rounded(drawn.y),
        z=[rounded(row) for row in drawn.half_width],
        contours={
            "start": level,
            "end": level,
            "size": 1.0,
            "coloring": "none",
            "showlabels": True,
            "labelfont": {"size": 14, "color": LIGHT.ink},
        },
        line=line | {"smoothing": 0},
        showscale=False,
        hoverinfo="skip",
        name=_size(drawn, level),
    )


def _add_poorly_known(figure: go.Figure, drawn: HalfWidthMap, needed: float) -> None:
    poor = drawn.half_width > needed
    shown = np.zeros_like(poor)
    shown[:: max(1, round(drawn.y.size / HATCH)), :: max(1, round(drawn.x.size / HATCH))] = True
    rows, columns = np.nonzero(poor & shown)
    if rows.size == 0:
        return
    figure.add_scatter(
        x=rounded(drawn.x[columns]),
        y=rounded(drawn.y[rows]),
        mode="markers",
        marker={
            "symbol": "line-ne-open",
            "size": 8,
            "color": LIGHT.unsure,
            "opacity": 0.55,
            "line": {"width": 1.2},
        },
        hoverinfo="skip",
        name="less well known than needed",
    )


def _size(drawn: HalfWidthMap, size: float) -> str:
    return f"×/÷{short(size, 3)}" if drawn.is_ratio else with_unit(short(size, 3), drawn.unit)
