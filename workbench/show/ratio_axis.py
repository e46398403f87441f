"""An axis of ratios: × to the right of no change, ÷ to its left, a few round marks."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from workbench.show.numbers import short

if TYPE_CHECKING:
    from collections.abc import Sequence

    import plotly.graph_objects as go

RATIO_TICKS = (
    (1.25, (1.1, 1.2)),
    (2.2, (1.2, 1.5, 2.0)),
    (14.0, (2.0, 5.0, 10.0)),
    (120.0, (3.0, 10.0, 30.0, 100.0)),
)
FARTHEST = 1e9  # a ratio beyond this says no more than "without end"
ROOM = 1.06  # of the way (in logarithms) left beyond the outermost end


def ratio_axis(figure: go.Figure, ends: Sequence[float], title: str) -> None:
    """Give a figure an x axis of ratios that holds the ends and no change; `title` is escaped."""
    known = [one for one in ends if 0 < one < math.inf]
    low, high = min([1 / 1.1, *known]), max([1.1, *known])
    low, high = max(low, 1 / FARTHEST), min(high, FARTHEST)
    sizes = _sizes(max(high, 1 / low))
    figure.update_xaxes(
        type="log",
        range=[ROOM * math.log10(low), ROOM * math.log10(high)],
        tickvals=[*(1 / one for one in reversed(sizes)), 1, *sizes],
        ticktext=[
            *(f"÷{short(one)}" for one in reversed(sizes)),
            "no change" if low * high < 1e3 and low * high > 1e-3 else "1",
            *(f"×{short(one)}" for one in sizes),
        ],
        title_text=title,
    )


def drawn_end(value: float) -> float:
    """Return an end of an interval as far as the axis reaches."""
    return min(max(value, 1 / FARTHEST), FARTHEST)


def _sizes(far: float) -> tuple[float, ...]:
    for reach, ticks in RATIO_TICKS:
        if far <= reach:
            return ticks
    powers = math.floor(math.log10(far))
    step = max(1, math.ceil(powers / 3))
    return tuple(10.0**power for power in range(step, powers + 1, step))
