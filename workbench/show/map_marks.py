"""What maps over two factors are drawn with: level lines, hatched fields, runs, axes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.show.canvas import number_axis, round_ticks, rounded
from workbench.show.line_pairs import axis_title
from workbench.show.theme import LIGHT

if TYPE_CHECKING:
    from collections.abc import Callable

    import plotly.graph_objects as go
    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.show.nouns import Runs

N_LINES = 6
HATCH = 26  # marks along each side of the map


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Field:
    """Numbers z (ny, nx) over x (nx,) and y (ny,); NaN where nothing is drawn."""

    x: NDArray[np.float64]
    y: NDArray[np.float64]
    z: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hatch:
    """Marks that fill a part of a map: colour, size, name, and words on pointing (or none)."""

    color: str
    size: int
    name: str
    words: str = ""


def add_level(
    figure: go.Figure, field: Field, level: float, *, line: dict[str, object], name: str
) -> None:
    """Draw the line on which a field is at a level, labelled in the line.

    `line` is its width and colour; words of the limit's own colour only stand on a limit.
    """
    ink = line["color"] if line["color"] == LIGHT.limit else LIGHT.ink
    figure.add_contour(
        x=rounded(field.x),
        y=rounded(field.y),
        z=[rounded(row) for row in field.z],
        contours={
            "start": level,
            "end": level,
            "size": 1.0,
            "coloring": "none",
            "showlabels": True,
            "labelfont": {"size": 14, "color": ink},
        },
        line=line | {"smoothing": 0},
        showscale=False,
        hoverinfo="skip",
        name=name,
    )


def add_hatch(figure: go.Figure, field: Field, hatch: Hatch, *, where: NDArray[np.bool_]) -> None:
    """Fill the part of a map (ny, nx) that is meant with strokes."""
    shown = np.zeros_like(where)
    shown[:: max(1, round(field.y.size / HATCH)), :: max(1, round(field.x.size / HATCH))] = True
    rows, columns = np.nonzero(where & shown)
    if rows.size == 0:
        return
    figure.add_scatter(
        x=rounded(field.x[columns]),
        y=rounded(field.y[rows]),
        mode="markers",
        marker={
            "symbol": "line-ne-open",
            "size": hatch.size,
            "color": hatch.color,
            "opacity": 0.55,
            "line": {"width": 1.2},
        },
        text=hatch.words or None,
        hoverinfo="text" if hatch.words else "skip",
        name=hatch.name,
    )


def nice_levels(mean: NDArray[np.float64]) -> list[float]:
    """Return about six round numbers inside the range of a map (ny, nx); none if it is flat."""
    seen = mean[np.isfinite(mean)]
    if seen.size == 0 or np.ptp(seen) <= 1e-12 * max(1.0, float(np.abs(seen).max())):
        return []
    low, high = float(seen.min()), float(seen.max())
    return [one for one in round_ticks(low, high, about=N_LINES) if low < one < high]


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
    update(
        title_text=axis_title(factor),
        range=list(ends),
        showgrid=False,
        ticklabelstandoff=10,  # clear of the runs on the edge
        **number_axis(*ends),
    )
