"""The ladder where no window holds: the nearest miss on its rails, promising nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.define.factors import Categorical
from workbench.show.canvas import framed, new_figure, note
from workbench.show.numbers import fixed, limit_decimals
from workbench.show.rails import ROW, add_rail, add_ticks, frame_rails, name_rail
from workbench.show.sentences import decision_sentence
from workbench.show.theme import LIGHT

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from workbench.decide.windows import Decision, NearestMiss, NoWindow
    from workbench.define.factors import Factor
    from workbench.run.record import Record

MISS_CAPTION = (
    "Each rail is the range tried. Hollow diamond: the best point found, which is not enough. "
    "Ticks: settings run."
)


def missed_ladder(decision: Decision, missing: NoWindow, record: Record | None) -> go.Figure:
    """Return rails with the best point found, hollow: it is not enough."""
    figure = new_figure()
    miss = missing.nearest_miss
    settings = dict(miss.settings) if miss else {}
    factors = _rails(settings, record)
    for i, factor in enumerate(factors):
        row = len(factors) - 1 - i
        add_rail(figure, row)
        add_ticks(figure, factor, row=row, record=record)
        name_rail(figure, factor, row)
        if miss is not None:
            _add_miss(figure, miss, factor, row=row)
    frame_rails(figure, max(1, len(factors)))
    return framed(
        figure, decision_sentence(decision), MISS_CAPTION, height=40 + ROW * max(1, len(factors))
    )


def _rails(settings: dict[str, float | str], record: Record | None) -> tuple[Factor, ...]:
    if record is None:
        return ()
    known = [f for f in record.trial.factors if not isinstance(f, Categorical)]
    return tuple(f for f in known if not settings or f.name in settings)


def _add_miss(figure: go.Figure, miss: NearestMiss, factor: Factor, *, row: int) -> None:
    if isinstance(factor, Categorical):
        return
    value = float(dict(miss.settings)[factor.name])
    figure.add_scatter(
        x=[round((value - factor.low) / (factor.high - factor.low), 5)],
        y=[row],
        mode="markers",
        marker={
            "symbol": "diamond",
            "size": 16,
            "color": LIGHT.paper,
            "line": {"width": 2.5, "color": LIGHT.unsure},
        },
        hoverinfo="skip",
        cliponaxis=False,
        name="nearest miss",
    )
    note(
        figure,
        f"<b>{fixed(value, limit_decimals(factor, (value,)))}</b>",
        x=(value - factor.low) / (factor.high - factor.low),
        y=row + 0.16,
        yanchor="bottom",
        font={"size": 16},
    )
