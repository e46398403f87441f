"""How runs are drawn that are no plain readings: sized by their parts, cut off as arrows."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.show.theme import LIGHT

if TYPE_CHECKING:
    import plotly.graph_objects as go
    from numpy.typing import NDArray

SMALLEST, LARGEST = 7.0, 20.0
BEYOND = (
    (1, "arrow-up", "cut off: the value lies above"),
    (-1, "arrow-down", "cut off: the value lies below"),
)


def sizes(weight: NDArray[np.float64]) -> list[float]:
    """Return the size of marks whose areas go with their weight (n,)."""
    most = float(weight.max(initial=1.0))
    if np.ptp(weight) == 0:
        return [10.0] * weight.size
    wanted = LARGEST * np.sqrt(weight / most)
    return [float(f"{max(SMALLEST, one):.3g}") for one in wanted]


def legend_above(figure: go.Figure) -> None:
    """Name marks that a label cannot stand beside, in a row above the plot."""
    figure.update_layout(
        showlegend=True,
        legend={
            "orientation": "h",
            "x": 0,
            "xanchor": "left",
            "y": 1.0,
            "yanchor": "bottom",
            "font": {"size": 14, "color": LIGHT.ink},
            "bgcolor": "rgba(0,0,0,0)",
            "itemclick": False,
            "itemdoubleclick": False,
        },
    )
    for one in figure.data:
        if one.showlegend is None:
            one.showlegend = False
