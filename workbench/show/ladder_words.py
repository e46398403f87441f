"""Words and numbers around the bars of a limits ladder, placed so that none overlap."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.define.factors import Categorical
from workbench.show.canvas import note
from workbench.show.escape import label
from workbench.show.numbers import fixed, limit_decimals, short
from workbench.show.rails import is_edge, name_rail, reached, stop_words
from workbench.show.theme import LIGHT

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from workbench.decide.windows import Limit
    from workbench.define.factors import Factor

SIGNS = 62  # letters along a rail at 14 px
BESIDE = 0.3  # room for words beside the ends of a rail, as a part of it


def write_values(figure: go.Figure, limit: Limit, row: int) -> None:
    """Write low, set point and high above the bar."""
    low, centre, high = _written(limit)
    places = [reached(limit, v) for v in (limit.low, limit.set_point, limit.high)]
    is_tight = min(places[1] - places[0], places[2] - places[1]) < 0.07
    for text, x, anchor in (
        (low, places[0], "right" if is_tight else "center"),
        (high, places[2], "left" if is_tight else "center"),
    ):
        note(
            figure,
            f"<b>{text}</b>",
            x=x,
            y=row + 0.19,
            xanchor=anchor,
            xshift={"right": -6, "left": 6, "center": 0}[anchor],
            yanchor="bottom",
            font={"size": 15},
        )
    note(
        figure,
        f"<b>{centre}</b>",
        x=places[1],
        y=row + 0.19,
        yanchor="bottom",
        font={"size": 18},
    )


def _written(limit: Limit) -> list[str]:
    values = (limit.low, limit.set_point, limit.high)
    decimals = limit_decimals(limit.factor, values)
    return [fixed(value, decimals) for value in values]


def write_stops(figure: go.Figure, limit: Limit, row: int) -> None:
    """Write what stops each side under its end, beside one another or apart."""
    low, high = reached(limit, limit.low), reached(limit, limit.high)
    stops = [limit.limited_by_low, limit.limited_by_high]
    lengths = [len(stop_words(stop)) / SIGNS for stop in stops]
    if sum(lengths) + 0.03 <= high - low:
        placed = [(low, "left"), (high, "right")]
    else:  # outwards, as far as there is room beside the rail
        placed = [
            (max(low, lengths[0] - BESIDE), "right"),
            (min(high, 1 + BESIDE - lengths[1]), "left"),
        ]
    is_crossed = placed[0][1] == "right" and placed[0][0] + 0.02 > placed[1][0]
    for i, (stop, (x, anchor)) in enumerate(zip(stops, placed, strict=True)):
        note(
            figure,
            label(stop_words(stop)),
            x=x,
            y=row - 0.25 - (0.19 if i and is_crossed else 0),
            xanchor=anchor,
            yanchor="top",
            font={"size": 14, "color": LIGHT.quiet if is_edge(stop) else LIGHT.limit},
        )


def write_sides(figure: go.Figure, limit: Limit, row: int) -> None:
    """Write the factor at the left, its room and what the line holds at the right."""
    factor = limit.factor
    name_rail(figure, factor, row)
    note(
        figure,
        f"<b>±{_room(limit)}</b> {label(factor.unit)} room<br>"
        f'<span style="font-size:14px">{_holds(factor)}</span>',
        x=1.06,
        xref="paper",
        y=row,
        xanchor="left",
        align="left",
    )


def _room(limit: Limit) -> str:
    least = min(limit.set_point - limit.low, limit.high - limit.set_point)
    values = (limit.low, limit.set_point, limit.high)
    return fixed(max(0.0, least), limit_decimals(limit.factor, values))


def _holds(factor: Factor) -> str:
    if isinstance(factor, Categorical) or factor.setting_sd is None:
        return "setting error not stated"
    if factor.setting_sd == 0:
        return "stated as held exactly"
    return f"line holds ±{short(2 * factor.setting_sd)} (2 SD)"
