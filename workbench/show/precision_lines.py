"""Precision: where a plan will know the mean well enough."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.show.canvas import framed, new_figure
from workbench.show.map_marks import (
    Field,
    Hatch,
    add_hatch,
    add_level,
    add_runs,
    map_axis,
    nice_levels,
)
from workbench.show.numbers import percent, short, with_unit
from workbench.show.theme import LIGHT

if TYPE_CHECKING:
    import numpy as np
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
    field = Field(x=drawn.x, y=drawn.y, z=drawn.half_width)
    for level in nice_levels(field.z):
        thin: dict[str, object] = {"width": 1.2, "color": LIGHT.ink}
        add_level(figure, field, level, line=thin, name=_size(drawn, level))
    if drawn.needed is not None:
        thick: dict[str, object] = {"width": 3.5, "color": LIGHT.unsure}
        add_level(figure, field, drawn.needed, line=thick, name=_size(drawn, drawn.needed))
        poor = Hatch(color=LIGHT.unsure, size=8, name="less well known than needed")
        add_hatch(figure, field, poor, where=field.z > drawn.needed)
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


def _size(drawn: HalfWidthMap, size: float) -> str:
    return f"×/÷{short(size, 3)}" if drawn.is_ratio else with_unit(short(size, 3), drawn.unit)
