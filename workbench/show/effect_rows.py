"""Effects: what changes the outcome, and by how much."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from workbench.errors import Unavailable
from workbench.show.canvas import framed, lines_of, new_figure, note, number_axis, rounded
from workbench.show.clarity import Clarity, Zone, clarity, zone
from workbench.show.escape import label
from workbench.show.numbers import ratio, short, with_interval
from workbench.show.sentences import by_size, effects_caption, effects_sentence
from workbench.show.theme import LIGHT

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from workbench.fit.measured import MeasuredFit
    from workbench.fit.nouns import Effect

ROW = 38
LABEL_WIDTH = 34
RATIO_TICKS = (
    (1.25, (1.1, 1.2)),
    (2.2, (1.2, 1.5, 2.0)),
    (14.0, (2.0, 5.0, 10.0)),
    (120.0, (3.0, 10.0, 30.0, 100.0)),
    (math.inf, (10.0, 100.0, 1e3, 1e4, 1e5, 1e6)),
)


def effects(fit: MeasuredFit) -> go.Figure:
    """Return a row for each effect, largest first: dot, 95 % interval, its numbers at the right.

    Without an error estimate the dots stand alone, on the band of Lenth's pseudo standard error.
    """
    rows = by_size(fit)
    figure = new_figure()
    _add_zone(figure, fit, len(rows))
    for kind in Clarity:
        _add_marks(figure, fit, kind)
    _label_rows(figure, fit)
    _scale_axis(figure, fit)
    return framed(
        figure,
        effects_sentence(fit),
        effects_caption(fit),
        height=max(130, 96 + ROW * len(rows)),
    )


def _add_zone(figure: go.Figure, fit: MeasuredFit, n_rows: int) -> None:
    band = _band(fit)
    top, bottom = n_rows - 0.45, -0.55
    if band is not None:
        figure.add_scatter(
            x=rounded([band.low, band.high, band.high, band.low]),
            y=[bottom, bottom, top, top],
            mode="lines",
            line={"width": 0},
            fill="toself",
            fillcolor=LIGHT.noise,
            opacity=0.18,
            hoverinfo="skip",
            name="too small to matter" if _has_error(fit) else "within the margin",
        )
    nothing = 1.0 if fit.outcome.scale == "log" else 0.0
    figure.add_scatter(
        x=[nothing, nothing],
        y=[bottom, top],
        mode="lines",
        line={"width": 1.5, "color": LIGHT.noise},
        hoverinfo="skip",
        name="no change",
    )


def _band(fit: MeasuredFit) -> Zone | None:
    if _has_error(fit):
        return zone(fit.outcome)
    if isinstance(fit.pseudo_error, Unavailable):
        return None
    margin = fit.pseudo_error.margin
    if fit.outcome.scale == "log":
        return Zone(low=math.exp(-margin), high=math.exp(margin))
    return Zone(low=-margin, high=margin)


def _has_error(fit: MeasuredFit) -> bool:
    return not isinstance(fit.residual_variance, Unavailable)


def _add_marks(figure: go.Figure, fit: MeasuredFit, kind: Clarity) -> None:
    rows = by_size(fit)
    placed = [(len(rows) - 1 - i, one) for i, one in enumerate(rows) if clarity(one, fit) is kind]
    if not placed:
        return
    hue = {Clarity.CLEAR: LIGHT.ink, Clarity.OPEN: LIGHT.unsure, Clarity.SMALL: LIGHT.noise}[kind]
    _add_intervals(figure, placed, hue)
    figure.add_scatter(
        x=rounded([one.value for _, one in placed]),
        y=[place for place, _ in placed],
        mode="markers",
        marker={
            "size": 11 if kind is Clarity.CLEAR else 10,
            "color": hue if kind is Clarity.CLEAR else LIGHT.paper,
            "line": {"width": 2, "color": hue},
        },
        text=[_hover(one) for _, one in placed],
        hoverinfo="text",
        cliponaxis=False,
        name=kind.value,
    )


def _add_intervals(figure: go.Figure, placed: list[tuple[int, Effect]], hue: str) -> None:
    x: list[float] = []
    y: list[float | None] = []
    for place, one in placed:
        if not isinstance(one.estimate, Unavailable):
            x += [one.estimate.low, one.estimate.high, math.nan]
            y += [place, place, None]
    if x:
        figure.add_scatter(
            x=rounded(x),
            y=y,
            mode="lines",
            line={"width": 2.5, "color": hue},
            hoverinfo="skip",
            connectgaps=False,
            name="95\u00a0% interval",
        )


def _hover(effect: Effect) -> str:
    if isinstance(effect.estimate, Unavailable):
        return f"{label(effect.name)}<br>{label(effect.from_to)}"
    found = with_interval(
        effect.value, effect.estimate.low, effect.estimate.high, is_ratio=effect.is_ratio
    )
    unit = "" if effect.is_ratio else f" {label(effect.unit)}"
    return (
        f"{label(effect.name)}, {label(effect.from_to)}<br>"
        f"{found.value}{unit}, 95\u00a0%: {found.interval}"
    )


def _label_rows(figure: go.Figure, fit: MeasuredFit) -> None:
    rows = by_size(fit)
    places = [len(rows) - 1 - i for i in range(len(rows))]
    figure.update_yaxes(
        tickvals=places,
        ticktext=[_row_name(one, fit) for one in rows],
        range=[-0.6, len(rows) - 0.4],
        showgrid=False,
        tickfont={"size": 15, "color": LIGHT.ink},
    )
    for place, one in zip(places, rows, strict=True):
        note(
            figure,
            _numbers(one, fit),
            x=1.02,
            xref="paper",
            y=place,
            xanchor="left",
            yanchor="middle",
            align="left",
        )
    if rows:
        head = "" if fit.outcome.scale == "log" else label(rows[0].unit)
        head += (", " if head else "") + "95\u00a0% interval" if _has_error(fit) else ""
        note(
            figure,
            head,
            x=1.02,
            xref="paper",
            y=len(rows) - 0.45,
            xanchor="left",
            yanchor="bottom",
            font={"size": 13, "color": LIGHT.quiet},
        )


def _row_name(effect: Effect, fit: MeasuredFit) -> str:
    slow = {one.name for one in fit.settings.factors if one.slow}
    words = effect.name + (" (slow)" if slow & set(effect.term.factors) else "")
    written = "<br>".join(label(line) for line in lines_of(words, LABEL_WIDTH))
    return f"<b>{written}</b>" if clarity(effect, fit) is Clarity.CLEAR else written


def _numbers(effect: Effect, fit: MeasuredFit) -> str:
    if isinstance(effect.estimate, Unavailable):
        size = ratio(effect.value) if effect.is_ratio else short(effect.value, 3)
        return f"<b>{size}</b>"
    found = with_interval(
        effect.value, effect.estimate.low, effect.estimate.high, is_ratio=effect.is_ratio
    )
    value = f"<b>{found.value}</b>" if clarity(effect, fit) is Clarity.CLEAR else found.value
    return f'{value}  <span style="font-size:13px">{found.interval}</span>'


def _reach(fit: MeasuredFit) -> list[float]:
    ends: list[float] = []
    for one in fit.effects:
        found = one.estimate
        ends += [one.value] if isinstance(found, Unavailable) else [found.low, found.high]
    return ends


def _scale_axis(figure: go.Figure, fit: MeasuredFit) -> None:
    name, reach = label(fit.outcome.name), _reach(fit)
    figure.update_layout(margin={"r": 190, "b": 64})
    if fit.outcome.scale != "log":
        unit = label(fit.effects[0].unit) if fit.effects else ""
        figure.update_xaxes(title_text=f"change in {name}" + (f", {unit}" if unit else ""))
        if reach:
            figure.update_xaxes(**number_axis(min(reach), max(reach)))
        return
    ends = [1.0, *reach]
    far = max(max(end, 1 / end) for end in ends if end > 0)
    sizes = next(ticks for reach, ticks in RATIO_TICKS if far <= reach)
    figure.update_xaxes(
        type="log",
        tickvals=[*(1 / one for one in reversed(sizes)), 1, *sizes],
        ticktext=[
            *(f"÷{one:g}" for one in reversed(sizes)),
            "no change",
            *(f"×{one:g}" for one in sizes),
        ],
        title_text=f"{name} at the high setting, compared with the low one",
    )
