"""Contour of the mean: where the mean goes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.show.canvas import framed, new_figure
from workbench.show.escape import label
from workbench.show.map_marks import (
    Field,
    Hatch,
    add_hatch,
    add_level,
    add_runs,
    map_axis,
    nice_levels,
)
from workbench.show.measures import measure
from workbench.show.numbers import requirement, with_unit
from workbench.show.sentences import mean_map_caption, mean_map_sentence
from workbench.show.theme import LIGHT

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from workbench.show.nouns import MeanMap


def contour_of_mean(drawn: MeanMap) -> go.Figure:
    """Return lines of equal mean, labelled, thicker as it grows; the requirement as a wall."""
    figure = new_figure()
    times = measure(drawn.outcome).times
    mean = Field(x=drawn.x, y=drawn.y, z=times * np.where(drawn.inside, drawn.mean, np.nan))
    levels = nice_levels(mean.z)
    for place, level in enumerate(levels):
        width = 1.2 + 2.2 * place / max(1, len(levels) - 1)
        line: dict[str, object] = {"width": width, "color": LIGHT.ink}
        add_level(figure, mean, level, line=line, name=f"{level:g}")
    _add_wall(figure, drawn, mean)
    add_runs(figure, drawn.runs)
    map_axis(figure.update_xaxes, drawn.x_factor, drawn.x)
    map_axis(figure.update_yaxes, drawn.y_factor, drawn.y)
    figure.update_layout(width=700)
    return framed(figure, mean_map_sentence(drawn), mean_map_caption(drawn), height=470)


def _add_wall(figure: go.Figure, drawn: MeanMap, mean: Field) -> None:
    what = measure(drawn.outcome)
    limits = what.limits
    if limits is None:
        return
    fails = np.zeros(mean.z.shape, dtype=bool)
    wall: dict[str, object] = {"width": 3, "color": LIGHT.limit}
    for end, sign in ((limits.low, -1.0), (limits.high, 1.0)):
        if end is not None:
            fails |= np.nan_to_num(sign * (mean.z - end), nan=-1.0) > 0
            add_level(figure, mean, end, line=wall, name=f"{end:g}")
    asked = label(with_unit(requirement(limits), what.unit))
    hatch = Hatch(color=LIGHT.limit, size=9, name="fails", words=f"mean fails: asked {asked}")
    add_hatch(figure, mean, hatch, where=fails)
