"""Limits ladder: what we set, and how far it may drift."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.decide.windows import NoWindow
from workbench.define.factors import Categorical
from workbench.show.canvas import framed, new_figure, note
from workbench.show.escape import label
from workbench.show.numbers import fixed, limit_decimals, short, tried
from workbench.show.sentences import decision_sentence
from workbench.show.theme import LIGHT

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from workbench.decide.windows import Decision, Limit, NearestMiss
    from workbench.define.factors import Factor
    from workbench.run.record import Record

ROW = 92
SIGNS = 62  # letters along a rail at 14 px
BESIDE = 0.3  # room for words beside the ends of a rail, as a part of it
CAPTION = (
    "Each rail is the range tried. Bar: the window. Diamond: set point with setting error (white "
    "line, two standard deviations each way). Ticks: settings run. Words: what stops the bar "
    "there; a dotted end is where looking stopped."
)
MISS_CAPTION = (
    "Each rail is the range tried. Hollow diamond: the best point found, which is not enough. "
    "Ticks: settings run."
)


def limits_ladder(decision: Decision, record: Record | None = None) -> go.Figure:
    """Return one rail for each factor, with its bar, set point, runs and what stops each side.

    Without a window the rails carry the nearest miss, hollow.
    """
    best = decision.best
    if isinstance(best, NoWindow):
        return _missed(decision, best, record)
    figure = new_figure()
    rows = len(best.limits)
    for i, limit in enumerate(best.limits):
        _add_row(figure, limit, row=rows - 1 - i, record=record)
    _frame_rails(figure, rows)
    levels = ", ".join(f"{name}: {level}" for name, level in best.levels)
    caption = f"{CAPTION} At {levels}." if levels else CAPTION
    return framed(figure, decision_sentence(decision), caption, height=40 + ROW * rows)


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


def _add_row(figure: go.Figure, limit: Limit, *, row: int, record: Record | None) -> None:
    low, high = reached(limit, limit.low), reached(limit, limit.high)
    _add_rail(figure, row)
    _add_bar(figure, limit, row)
    for end, stop in ((low, limit.limited_by_low), (high, limit.limited_by_high)):
        _add_end(figure, (end, row), edge=is_edge(stop))
    _add_ticks(figure, limit.factor, row=row, record=record)
    _add_set_point(figure, limit, row)
    _write_values(figure, limit, row)
    _write_stops(figure, limit, row)
    _write_sides(figure, limit, row)


def _add_rail(figure: go.Figure, row: int) -> None:
    figure.add_scatter(
        x=[0, 1],
        y=[row, row],
        mode="lines",
        line={"width": 1.6, "color": LIGHT.noise},
        hoverinfo="skip",
        name="range tried",
    )


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


def _add_ticks(figure: go.Figure, factor: Factor, *, row: int, record: Record | None) -> None:
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


def _write_values(figure: go.Figure, limit: Limit, row: int) -> None:
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


def _write_stops(figure: go.Figure, limit: Limit, row: int) -> None:
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


def _write_sides(figure: go.Figure, limit: Limit, row: int) -> None:
    factor = limit.factor
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


def _frame_rails(figure: go.Figure, rows: int) -> None:
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


def _missed(decision: Decision, missing: NoWindow, record: Record | None) -> go.Figure:
    figure = new_figure()
    miss = missing.nearest_miss
    settings = dict(miss.settings) if miss else {}
    factors = _rails(settings, record)
    for i, factor in enumerate(factors):
        row = len(factors) - 1 - i
        _add_rail(figure, row)
        _add_ticks(figure, factor, row=row, record=record)
        _write_rail(figure, factor, row)
        if miss is not None:
            _add_miss(figure, miss, factor, row=row)
    _frame_rails(figure, max(1, len(factors)))
    return framed(
        figure, decision_sentence(decision), MISS_CAPTION, height=40 + ROW * max(1, len(factors))
    )


def _rails(settings: dict[str, float | str], record: Record | None) -> tuple[Factor, ...]:
    if record is None:
        return ()
    known = [f for f in record.trial.factors if not isinstance(f, Categorical)]
    return tuple(f for f in known if not settings or f.name in settings)


def _write_rail(figure: go.Figure, factor: Factor, row: int) -> None:
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
