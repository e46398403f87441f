"""Limits ladder: what we set, and how far it may drift."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.decide.windows import NoWindow
from workbench.define.factors import Categorical
from workbench.show.canvas import framed, new_figure
from workbench.show.escape import label
from workbench.show.ladder_miss import missed_ladder
from workbench.show.ladder_words import write_sides, write_stops, write_values
from workbench.show.rails import ROW, add_rail, add_ticks, frame_rails, is_edge, reached
from workbench.show.sentences import decision_sentence
from workbench.show.theme import LIGHT

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from workbench.decide.windows import Decision, Limit
    from workbench.run.record import Record

CAPTION = (
    "Each rail is the range tried. Bar: the window. Diamond: set point with setting error (white "
    "line, two standard deviations each way). Ticks: settings run. Words: what stops the bar "
    "there; a dotted end is where looking stopped."
)


def limits_ladder(decision: Decision, record: Record | None = None) -> go.Figure:
    """Return one rail for each factor, with its bar, set point, runs and what stops each side.

    Without a window the rails carry the nearest miss, hollow.
    """
    best = decision.best
    if isinstance(best, NoWindow):
        return missed_ladder(decision, best, record)
    figure = new_figure()
    rows = len(best.limits)
    for i, limit in enumerate(best.limits):
        _add_row(figure, limit, row=rows - 1 - i, record=record)
    frame_rails(figure, rows)
    levels = ", ".join(f"{name}: {level}" for name, level in best.levels)
    caption = f"{CAPTION} At {levels}." if levels else CAPTION
    return framed(figure, decision_sentence(decision), caption, height=40 + ROW * rows)


def _add_row(figure: go.Figure, limit: Limit, *, row: int, record: Record | None) -> None:
    low, high = reached(limit, limit.low), reached(limit, limit.high)
    add_rail(figure, row)
    _add_bar(figure, limit, row)
    for end, stop in ((low, limit.limited_by_low), (high, limit.limited_by_high)):
        _add_end(figure, (end, row), edge=is_edge(stop))
    add_ticks(figure, limit.factor, row=row, record=record)
    _add_set_point(figure, limit, row)
    write_values(figure, limit, row)
    write_stops(figure, limit, row)
    write_sides(figure, limit, row)


def _add_bar(figure: go.Figure, limit: Limit, row: int) -> None:
    low, high = reached(limit, limit.low), reached(limit, limit.high)
    figure.add_shape(
        type="rect",
        x0=low,
        x1=high,
        y0=row - 0.09,
        y1=row + 0.09,
        fillcolor=LIGHT.meets,
        line={"width": 0},
        layer="above",
        name=label(limit.factor.name),
    )


def _add_end(figure: go.Figure, at: tuple[float, int], *, edge: bool) -> None:
    x, row = at
    reach = 0.13 if edge else 0.18
    figure.add_shape(
        type="line",
        x0=x,
        x1=x,
        y0=row - reach,
        y1=row + reach,
        line={
            "width": 2.5 if edge else 4,
            "color": LIGHT.noise if edge else LIGHT.limit,
            "dash": "dot" if edge else "solid",
        },
        layer="above",
    )


def _add_set_point(figure: go.Figure, limit: Limit, row: int) -> None:
    centre = reached(limit, limit.set_point)
    spread = _two_sd(limit)
    low, high = reached(limit, limit.low), reached(limit, limit.high)
    if spread > 0:
        figure.add_shape(
            type="line",
            x0=max(low, centre - spread),
            x1=min(high, centre + spread),
            y0=row,
            y1=row,
            line={"width": 2.4, "color": LIGHT.paper},
            layer="above",
        )
    figure.add_shape(
        type="path",
        path="M 0 -12 L 12 0 L 0 12 L -12 0 Z",
        xsizemode="pixel",
        ysizemode="pixel",
        xanchor=centre,
        yanchor=row,
        fillcolor=LIGHT.paper,
        line={"width": 3, "color": LIGHT.ink},
        layer="above",
        name="set point",
    )


def _two_sd(limit: Limit) -> float:
    factor = limit.factor
    if isinstance(factor, Categorical) or not factor.setting_sd:
        return 0.0
    return 2 * factor.setting_sd / (factor.high - factor.low)
