"""Effects: what changes the outcome, and by how much."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.errors import Unavailable
from workbench.fit.outcome_model import OutcomeModel
from workbench.show.canvas import framed, lines_of, new_figure, note, number_axis, rounded
from workbench.show.clarity import (
    Clarity,
    Zone,
    clarity,
    has_error,
    is_on_ratio,
    pseudo_error,
    zone,
)
from workbench.show.escape import label
from workbench.show.measures import ratio_of
from workbench.show.numbers import size_words, with_interval
from workbench.show.ratio_axis import drawn_end, ratio_axis
from workbench.show.sentences import by_size, effects_caption, effects_sentence, sorted_by_size
from workbench.show.spread_words import spread_caption, spread_clarity, spread_sentence
from workbench.show.theme import LIGHT

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from workbench.fit.faces import Fit
    from workbench.fit.nouns import Effect
    from workbench.fit.scatter import ScatterFit

ROW = 38
LABEL_WIDTH = 34


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row: its effect, how it stands, and the words before it."""

    effect: Effect
    stands: Clarity
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Rows:
    """Rows to draw, first on top; `band` is the grey zone, `head` stands over the numbers."""

    rows: tuple[Row, ...]
    band: Zone | None
    band_name: str
    is_ratio: bool
    head: str
    axis: str


def effects(fit: Fit) -> go.Figure:
    """Return a row for each effect, largest first: dot, 95 % interval, its numbers at the right.

    Ratios (of odds, of rates, of a quantity on the log scale) stand on an axis of × and ÷.
    Without an error estimate the dots stand alone, on the band of Lenth's pseudo standard error.
    """
    return framed(
        _drawn(_of_fit(fit)),
        effects_sentence(fit),
        effects_caption(fit),
        height=_height(len(fit.effects)),
    )


def spread_effects(found: ScatterFit) -> go.Figure:
    """Return a row for each setting: how many times as wide it makes the scatter."""
    rows = tuple(
        Row(effect=one, stands=spread_clarity(one, found), words=one.name)
        for one in sorted_by_size(found.effects)
    )
    drawn = Rows(
        rows=rows,
        band=None,
        band_name="",
        is_ratio=True,
        head="" if found.is_hint else "95\u00a0% interval",
        axis=f"scatter of {label(found.outcome.name)} at the high setting, "
        "compared with the low one",
    )
    return framed(
        _drawn(drawn), spread_sentence(found), spread_caption(found), height=_height(len(rows))
    )


def _of_fit(fit: Fit) -> Rows:
    ratios = is_on_ratio(fit)
    rows = tuple(
        Row(effect=one, stands=clarity(one, fit), words=_row_name(one, fit))
        for one in by_size(fit)
    )
    unit = rows[0].effect.unit if rows else ""
    heads = [] if ratios or not rows else [label(unit)]
    heads += ["95\u00a0% interval"] if has_error(fit) else []
    name = label(ratio_of(fit))
    return Rows(
        rows=rows,
        band=_band(fit, ratios=ratios),
        band_name="too small to matter" if has_error(fit) else "within the margin",
        is_ratio=ratios,
        head=", ".join(one for one in heads if one),
        axis=f"{name} at the high setting, compared with the low one"
        if ratios
        else f"change in {label(fit.outcome.name)}" + (f", {label(unit)}" if unit else ""),
    )


def _row_name(effect: Effect, fit: Fit) -> str:
    return effect.name + (" (slow)" if _is_slow(effect, fit) else "")


def _is_slow(effect: Effect, fit: Fit) -> bool:
    """Return whether few setups judge an effect: by the stratum of its test, if it has one."""
    if isinstance(fit, OutcomeModel):
        strata = [one.stratum for one in fit.tests if one.term == effect.term]
        return any(
            one.startswith(("between", "setup")) and one != "between runs" for one in strata
        )
    slow = {one.name for one in fit.settings.factors if one.slow}
    return bool(slow & set(effect.term.factors))


def _band(fit: Fit, *, ratios: bool) -> Zone | None:
    if has_error(fit):
        return zone(fit.outcome)
    found = pseudo_error(fit)
    if isinstance(found, Unavailable):
        return None
    if ratios:
        return Zone(low=math.exp(-found.margin), high=math.exp(found.margin))
    return Zone(low=-found.margin, high=found.margin)


def _height(n_rows: int) -> int:
    return max(130, 96 + ROW * n_rows)


def _drawn(drawn: Rows) -> go.Figure:
    figure = new_figure()
    _add_zone(figure, drawn)
    for kind in Clarity:
        _add_marks(figure, drawn, kind)
    _label_rows(figure, drawn)
    _scale_axis(figure, drawn)
    return figure


def _add_zone(figure: go.Figure, drawn: Rows) -> None:
    band = drawn.band
    top, bottom = len(drawn.rows) - 0.45, -0.55
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
            name=drawn.band_name,
        )
    nothing = 1.0 if drawn.is_ratio else 0.0
    figure.add_scatter(
        x=[nothing, nothing],
        y=[bottom, top],
        mode="lines",
        line={"width": 1.5, "color": LIGHT.noise},
        hoverinfo="skip",
        name="no change",
    )


def _add_marks(figure: go.Figure, drawn: Rows, kind: Clarity) -> None:
    many = len(drawn.rows)
    placed = [(many - 1 - i, one.effect) for i, one in enumerate(drawn.rows) if one.stands is kind]
    if not placed:
        return
    hue = {Clarity.CLEAR: LIGHT.ink, Clarity.OPEN: LIGHT.unsure, Clarity.SMALL: LIGHT.noise}[kind]
    _add_intervals(figure, placed, hue)
    figure.add_scatter(
        x=rounded([_place(one.value, one) for _, one in placed]),
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


def _place(value: float, effect: Effect) -> float:
    """Return where a number is drawn; a ratio without end has no place."""
    if not effect.is_ratio:
        return value
    return math.nan if value in (0, math.inf) else drawn_end(value)


def _add_intervals(figure: go.Figure, placed: list[tuple[int, Effect]], hue: str) -> None:
    x: list[float] = []
    y: list[float | None] = []
    for place, one in placed:
        if not isinstance(one.estimate, Unavailable):
            ends = [one.estimate.low, one.estimate.high]
            x += [*(drawn_end(end) if one.is_ratio else end for end in ends), math.nan]
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


def _label_rows(figure: go.Figure, drawn: Rows) -> None:
    many = len(drawn.rows)
    places = [many - 1 - i for i in range(many)]
    figure.update_yaxes(
        tickvals=places,
        ticktext=[_written(one) for one in drawn.rows],
        range=[-0.6, many - 0.4],
        showgrid=False,
        tickfont={"size": 15, "color": LIGHT.ink},
    )
    for place, one in zip(places, drawn.rows, strict=True):
        note(
            figure,
            _numbers(one, drawn),
            x=1.02,
            xref="paper",
            y=place,
            xanchor="left",
            yanchor="middle",
            align="left",
        )
    if drawn.rows:
        note(
            figure,
            drawn.head,
            x=1.02,
            xref="paper",
            y=many - 0.45,
            xanchor="left",
            yanchor="bottom",
            font={"size": 13, "color": LIGHT.quiet},
        )


def _written(row: Row) -> str:
    written = "<br>".join(label(line) for line in lines_of(row.words, LABEL_WIDTH))
    return f"<b>{written}</b>" if row.stands is Clarity.CLEAR else written


def _numbers(row: Row, drawn: Rows) -> str:
    effect = row.effect
    if isinstance(effect.estimate, Unavailable):
        size = size_words(effect.value, is_ratio=effect.is_ratio)
        # Beside rows that have one, a row without an interval says so.
        alone = "no interval" if "interval" in drawn.head else ""
        small = f'  <span style="font-size:13px">{alone}</span>'
        return f"{size}{small}" if alone else f"<b>{size}</b>"
    found = with_interval(
        effect.value, effect.estimate.low, effect.estimate.high, is_ratio=effect.is_ratio
    )
    value = f"<b>{found.value}</b>" if row.stands is Clarity.CLEAR else found.value
    return f'{value}  <span style="font-size:13px">{found.interval}</span>'


def _scale_axis(figure: go.Figure, drawn: Rows) -> None:
    ends: list[float] = []
    for one in drawn.rows:
        found = one.effect.estimate
        value = one.effect.value
        ends += [value] if isinstance(found, Unavailable) else [found.low, found.high]
    figure.update_layout(margin={"r": 190, "b": 64})
    if drawn.is_ratio:
        ratio_axis(figure, ends, drawn.axis)
        return
    figure.update_xaxes(title_text=drawn.axis)
    known = [one for one in ends if math.isfinite(one)]
    if known:
        figure.update_xaxes(**number_axis(min(known), max(known)))
