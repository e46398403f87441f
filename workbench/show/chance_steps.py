"""Chance map: where a new part passes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.special import ndtri

from workbench.decide.windows import NoWindow
from workbench.show.canvas import framed, new_figure, note, rounded
from workbench.show.escape import label
from workbench.show.map_marks import add_runs, map_axis
from workbench.show.nouns import Runs
from workbench.show.numbers import in_hundred, percent
from workbench.show.rails import is_edge, stop_words
from workbench.show.sentences import chance_sentence
from workbench.show.theme import CHANCE_CUTS, CHANCE_NAMES, LIGHT

if TYPE_CHECKING:
    import plotly.graph_objects as go
    from numpy.typing import NDArray

    from workbench.decide import ChanceMap
    from workbench.decide.windows import Decision, Limit, Window
    from workbench.run.record import Record

SURE = 1e-6  # chances closer than this to 0 or 1 are drawn as that


def chance_map(
    drawn: ChanceMap, decision: Decision | None = None, *, record: Record | None = None
) -> go.Figure:
    """Return the chance of a new part in six named steps, with window, set point and runs.

    The doubled line is where the share asked for is just assured; no such line means that it is
    assured everywhere or nowhere on the map.
    """
    figure = new_figure()
    _add_steps(figure, drawn)
    best = decision.best if decision else None
    window = None if best is None or isinstance(best, NoWindow) else best
    if best is not None:
        _add_assured(figure, drawn, best.share)
    if record is not None:
        add_runs(figure, _runs(drawn, record))
    if window is not None:
        _add_window(figure, drawn, window)
    _add_key(figure, asked=best is not None, has_window=window is not None)
    map_axis(figure.update_xaxes, drawn.x_factor, drawn.x)
    map_axis(figure.update_yaxes, drawn.y_factor, drawn.y)
    figure.update_layout(margin={"r": 190})
    outcomes = record.trial.outcomes if record is not None else ()
    return framed(
        figure,
        chance_sentence(decision, outcomes),
        chance_caption(drawn, decision),
        height=500,
    )


def chance_caption(drawn: ChanceMap, decision: Decision | None) -> str:
    """Return what a chance map shows and where the other settings are."""
    where = held_words(drawn)
    words = f"Chance that a new part meets every requirement{f', {where}' if where else ''}."
    if not drawn.inside.all():
        words += " Blank: outside the region tried."
    if decision is not None:
        best = decision.best
        words += (
            f" Doubled line: {in_hundred(best.share)} parts are assured with "
            f"{percent(drawn.confidence)} confidence."
        )
    return words


def held_words(drawn: ChanceMap) -> str:
    """Return where the settings not on the map stand: at their worst, or at one value each."""
    if not drawn.held:
        return ""
    return f"at the worst of {drawn.held}" if "anywhere" in drawn.held else f"at {drawn.held}"


def step_heights(chance: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return chances on a scale on which the cuts lie at 1, 2, …, linear in probit between.

    A grid is interpolated between its points when contours are drawn; in probit a plane stays a
    plane, so that the lines run where a finer grid would put them.
    """
    cuts = ndtri(np.array(CHANCE_CUTS))
    step = float(np.diff(cuts).mean())
    known = np.concatenate([[cuts[0] - step], cuts, [cuts[-1] + step]])
    probit = ndtri(np.clip(chance, SURE, 1 - SURE))
    inside = np.interp(probit, known, np.arange(known.size, dtype=np.float64))
    below = np.minimum(probit - known[0], 0.0) / step
    above = np.maximum(probit - known[-1], 0.0) / step
    return np.asarray(inside + below + above, dtype=np.float64)


def _add_steps(figure: go.Figure, drawn: ChanceMap) -> None:
    last = len(LIGHT.chance) - 1
    figure.add_contour(
        x=rounded(drawn.x),
        y=rounded(drawn.y),
        z=[rounded(row) for row in _inside(drawn, drawn.chance)],
        contours={"start": 1, "end": last, "size": 1, "coloring": "fill", "showlines": True},
        line={"width": 1, "color": LIGHT.paper, "smoothing": 0.7},
        colorscale=[[i / last, hue] for i, hue in enumerate(LIGHT.chance)],
        zmin=0.5,
        zmax=last + 0.5,
        zauto=False,
        autocontour=False,
        showscale=False,
        text=[[f"{100 * one:.1f} %" for one in row] for row in drawn.chance],
        hoverinfo="x+y+text",
        name="chance",
    )


def _add_assured(figure: go.Figure, drawn: ChanceMap, share: float) -> None:
    level = float(step_heights(np.array([share]))[0])
    heights = [rounded(row) for row in _inside(drawn, drawn.assured)]
    for width, hue in ((6, LIGHT.paper), (2.4, LIGHT.ink)):
        figure.add_contour(
            x=rounded(drawn.x),
            y=rounded(drawn.y),
            z=heights,
            contours={"start": level, "end": level, "size": 1, "coloring": "none"},
            line={"width": width, "color": hue, "smoothing": 0.7},
            autocontour=False,
            showscale=False,
            hoverinfo="skip",
            name="assured",
        )


def _inside(drawn: ChanceMap, chance: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return heights (ny, nx) of the steps, none outside the region tried."""
    return np.where(drawn.inside, step_heights(chance), np.nan)


def _runs(drawn: ChanceMap, record: Record) -> Runs:
    used = record.as_run.rows(record.used())
    return Runs(x=used.column(drawn.x_factor.name), y=used.column(drawn.y_factor.name))


def _add_window(figure: go.Figure, drawn: ChanceMap, window: Window) -> None:
    sides = {limit.factor.name: limit for limit in window.limits}
    across, up = sides.get(drawn.x_factor.name), sides.get(drawn.y_factor.name)
    if across is None or up is None:
        return
    for width, hue in ((8, LIGHT.paper), (4, LIGHT.ink)):
        figure.add_shape(
            type="rect",
            x0=across.low,
            x1=across.high,
            y0=up.low,
            y1=up.high,
            line={"width": width, "color": hue},
            layer="above",
            name="window",
        )
    figure.add_shape(
        type="path",
        path="M 0 -11 L 11 0 L 0 11 L -11 0 Z",
        xsizemode="pixel",
        ysizemode="pixel",
        xanchor=across.set_point,
        yanchor=up.set_point,
        fillcolor=LIGHT.paper,
        line={"width": 3, "color": LIGHT.ink},
        layer="above",
        name="set point",
    )
    _write_stops(figure, across, up)


def _write_stops(figure: go.Figure, across: Limit, up: Limit) -> None:
    middle_x, middle_y = (across.low + across.high) / 2, (up.low + up.high) / 2
    sides = (
        (across.limited_by_low, across.low, middle_y, {"xanchor": "right", "xshift": -7}),
        (across.limited_by_high, across.high, middle_y, {"xanchor": "left", "xshift": 7}),
        (up.limited_by_low, middle_x, up.low, {"yanchor": "top", "yshift": -7}),
        (up.limited_by_high, middle_x, up.high, {"yanchor": "bottom", "yshift": 7}),
    )
    for stop, x, y, place in sides:
        note(
            figure,
            label(stop_words(stop)),
            x=x,
            y=y,
            textangle=-90 if "xshift" in place else 0,
            bgcolor=LIGHT.paper,
            borderpad=3,
            font={"size": 14, "color": LIGHT.quiet if is_edge(stop) else LIGHT.limit},
            **place,
        )


def _add_key(figure: go.Figure, *, asked: bool, has_window: bool) -> None:
    top, step = 1.0, 0.062
    steps = list(zip(LIGHT.chance, CHANCE_NAMES, strict=True))[::-1]
    for i, (hue, words) in enumerate(steps):
        _add_key_step(figure, top - i * step, (hue, words), step=step)
    below = top - len(steps) * step
    _key_words(figure, "chance that a new<br>part meets everything", below - 0.015, quiet=True)
    signs = ["◇ set point", "▭ window"] if has_window else []
    signs += ["○ runs"]
    if asked:
        signs += ["═ share asked is assured"]
    for i, words in enumerate(signs):
        _key_words(figure, words, below - 0.17 - i * 0.055, quiet=False)


def _add_key_step(figure: go.Figure, y: float, said: tuple[str, str], *, step: float) -> None:
    hue, words = said
    figure.add_shape(
        type="rect",
        xref="paper",
        yref="paper",
        x0=1.035,
        x1=1.078,
        y0=y - step,
        y1=y,
        fillcolor=hue,
        line={"width": 1, "color": LIGHT.paper},
    )
    note(
        figure,
        words,
        xref="paper",
        yref="paper",
        x=1.085,
        y=y - step / 2,
        xanchor="left",
        yanchor="middle",
    )


def _key_words(figure: go.Figure, words: str, y: float, *, quiet: bool) -> None:
    note(
        figure,
        words,
        xref="paper",
        yref="paper",
        x=1.03,
        y=y,
        xanchor="left",
        yanchor="top",
        align="left",
        font={"size": 14, "color": LIGHT.quiet if quiet else LIGHT.ink},
    )
