"""Rails: the range tried of each factor, and what stops a bar on it, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.define.factors import Categorical
from workbench.show.canvas import note
from workbench.show.escape import label
from workbench.show.numbers import tried
from workbench.show.theme import LIGHT

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from workbench.decide.windows import Limit
    from workbench.define.factors import Factor
    from workbench.run.record import Record

ROW = 92  # height of a rail with its words, px


def is_edge(words: str) -> bool:
    """Return whether what stops a side is only the end of the range tried."""
    return words.startswith("edge of the") or not words


def stop_words(stop: str) -> str:
    """Return what stops a side in the line's own words, if it has some.

    >>> (
    ...     stop_words("peel force below 22 N (peels too easily)"),
    ...     stop_words("edge of the range tried"),
    ... )
    ('peels too easily', 'range edge')
    """
    if is_edge(stop):
        return "region edge" if "region" in stop else "range edge"
    if stop.endswith(")") and "(" in stop:
        return stop[stop.rindex("(") + 1 : -1] or stop
    return stop


def reached(limit: Limit, value: float) -> float:
    """Return where a value lies between the ends tried: 0 at low, 1 at high."""
    factor = limit.factor
    if isinstance(factor, Categorical):
        return 0.0
    return (value - factor.low) / (factor.high - factor.low)


def add_rail(figure: go.Figure, row: int) -> None:
    """Draw the range tried, from end to end."""
    figure.add_scatter(
        x=[0, 1],
        y=[row, row],
        mode="lines",
        line={"width": 1.6, "color": LIGHT.noise},
        hoverinfo="skip",
        name="range tried",
    )


def add_ticks(figure: go.Figure, factor: Factor, *, row: int, record: Record | None) -> None:
    """Draw a tick below the rail for each run that counts."""
    if record is None or isinstance(factor, Categorical):
        return
    if factor.name not in record.as_run.names:
        return
    run = record.as_run.rows(record.used()).column(factor.name)
    place = (run - factor.low) / (factor.high - factor.low)
    figure.add_scatter(
        x=[round(float(one), 5) for one in place],
        y=[row - 0.17] * len(place),
        mode="markers",
        marker={
            "symbol": "line-ns-open",
            "size": 9,
            "color": LIGHT.run,
            "line": {"width": 1.2},
            "opacity": 0.75,
        },
        hoverinfo="skip",
        cliponaxis=False,
        name="runs",
    )


def name_rail(figure: go.Figure, factor: Factor, row: int) -> None:
    """Write the factor, its unit and what was tried at the left of its rail."""
    unit = f"{label(factor.unit)}, " if factor.unit else ""
    note(
        figure,
        f"<b>{label(factor.name)}</b><br>"
        f'<span style="font-size:14px">{unit}tried {label(tried(factor))}</span>',
        x=-0.06,
        xref="paper",
        y=row,
        xanchor="right",
        align="right",
    )


def frame_rails(figure: go.Figure, rows: int) -> None:
    """Give the rails their room, without ticks or grid."""
    figure.update_xaxes(
        range=[0, 1], showgrid=False, showticklabels=False, zeroline=False, fixedrange=True
    )
    figure.update_yaxes(
        range=[-0.6, rows - 0.4],
        showgrid=False,
        showticklabels=False,
        zeroline=False,
        fixedrange=True,
    )
    figure.update_layout(margin={"l": 210, "r": 190, "b": 8})
