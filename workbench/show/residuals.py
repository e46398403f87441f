"""Residual checks: whether a run is odd, something drifted, the scatter is even."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

import numpy as np

from workbench.show.canvas import framed, new_figure, note, number_axis, rounded
from workbench.show.escape import label
from workbench.show.numbers import unit_of
from workbench.show.residual_rows import residuals_of
from workbench.show.sentences import order_sentence, scatter_sentence
from workbench.show.theme import LIGHT

if TYPE_CHECKING:
    import plotly.graph_objects as go
    from numpy.typing import NDArray

    from workbench.fit.faces import Fit
    from workbench.fit.measured import MeasuredFit
    from workbench.show.residual_rows import Residuals

ORDER_CAPTION = (
    "Each run minus the fit, in the order made, {unit}. Strips: {strips}. Cross: further than "
    "three of its standard errors, from the fit to the other runs."
)
KIND_CAPTION = (
    "Each row of the model in the order made: {kind}; about two in three lie within 1 where the "
    "model is right. Strips: {strips}. Cross: beyond 3."
)
MOST_LABELS = 16  # of runs along an axis, and of strips


def residuals_in_order(fit: Fit) -> go.Figure:
    """Return residuals in run order on strips of blocks or setups; odd runs as crosses."""
    found = residuals_of(fit)
    figure = new_figure()
    if found is None or found.run.size == 0:
        return framed(figure, order_sentence(fit), "This model keeps no rows.", height=90)
    floor = 3.2 if found.kind else 0.0  # in SDs: what is odd stays at the same height
    reach = max(1.25 * float(np.abs(found.residual).max(initial=0.0)), floor) or 1.0
    place = _places(found.run)
    _add_strips(figure, found, place)
    _add_zero(figure, 0.5, place.max() + 0.5)
    _add_residuals(figure, found, place)
    runs, first = np.unique(place, return_index=True)
    every = max(1, round(runs.size / MOST_LABELS))
    figure.update_xaxes(
        title_text="run, in the order made",
        tickvals=[float(one) for one in runs[::every]],
        ticktext=[str(found.run[i]) for i in first[::every]],
        range=[0.4, runs.size + 0.6],
        showgrid=False,
    )
    figure.update_yaxes(
        title_text=_residual_title(fit, found), range=[-reach, reach], **number_axis(-reach, reach)
    )
    return framed(figure, order_sentence(fit), _order_caption(fit, found), height=320)


def residuals_by_fitted(fit: MeasuredFit) -> go.Figure:
    """Return residuals against fitted values: whether the scatter is even."""
    figure = new_figure()
    fitted, residuals = fit.diagnostics.fitted, fit.diagnostics.residuals
    reach = 1.25 * float(np.abs(residuals).max(initial=0.0)) or 1.0
    spare = 0.05 * (float(np.ptp(fitted)) or 1.0)
    ends = [float(fitted.min()) - spare, float(fitted.max()) + spare]
    found = residuals_of(fit)
    _add_zero(figure, *ends)
    if found is not None:
        _add_residuals(figure, found, fitted)
        title = _residual_title(fit, found)
        figure.update_yaxes(title_text=title, range=[-reach, reach], **number_axis(-reach, reach))
    figure.update_xaxes(title_text=_fitted_title(fit), range=ends, **number_axis(*ends))
    figure.update_layout(width=620)
    caption = f"Each run minus the fit, against the fit, {_unit_words(fit)}. Even height: good."
    return framed(figure, scatter_sentence(fit), caption, height=330)


def _places(run: NDArray[np.int64]) -> NDArray[np.float64]:
    """Return the place (n,) of each row's run, counted from 1 in the order they come."""
    _, first, of = np.unique(run, return_index=True, return_inverse=True)
    rank = np.argsort(np.argsort(first))
    return np.asarray(rank[of.reshape(-1)] + 1, dtype=np.float64)


def _order_caption(fit: Fit, found: Residuals) -> str:
    strips = found.strips if found.strip_labels else "none"
    if found.kind:
        return KIND_CAPTION.format(kind=found.kind, strips=strips).replace(" Strips: none.", "")
    return ORDER_CAPTION.format(unit=_unit_words(fit), strips="blocks")


def _add_strips(figure: go.Figure, found: Residuals, place: NDArray[np.float64]) -> None:
    if not found.strip_labels:
        return
    order = np.argsort(place, kind="stable")
    groups = [
        (strip, [float(place[i]) for i in rows])
        for strip, rows in groupby(order.tolist(), key=lambda i: int(found.strip[i]))
    ]
    every = max(1, round(len(groups) / MOST_LABELS))
    for i, (strip, places) in enumerate(groups):
        low, high = min(places) - 0.5, max(places) + 0.5
        figure.add_shape(
            type="rect",
            x0=low,
            x1=high,
            y0=0,
            y1=1,
            yref="paper",
            fillcolor=LIGHT.panel if i % 2 else LIGHT.hair,
            opacity=0.9 if i % 2 else 0.45,
            line={"width": 0},
            layer="below",
        )
        if i % every:
            continue
        note(
            figure,
            label(found.strip_labels[strip]),
            x=(low + high) / 2,
            y=1,
            yref="paper",
            yanchor="bottom",
            font={"size": 13, "color": LIGHT.quiet},
        )


def _add_zero(figure: go.Figure, low: float, high: float) -> None:
    figure.add_scatter(
        x=[low, high],
        y=[0, 0],
        mode="lines",
        line={"width": 2, "color": LIGHT.ink},
        hoverinfo="skip",
        name="fit",
    )


def _add_residuals(figure: go.Figure, found: Residuals, place: NDArray[np.float64]) -> None:
    for chosen, symbol, hue, name in (
        (~found.odd, "circle", LIGHT.run, "runs"),
        (found.odd, "x-thin", LIGHT.fails, "odd runs"),
    ):
        if not chosen.any():
            continue
        figure.add_scatter(
            x=rounded(place[chosen]),
            y=rounded(found.residual[chosen]),
            mode="markers+text" if symbol == "x-thin" else "markers",
            marker={
                "size": 9,
                "symbol": symbol,
                "color": LIGHT.paper,
                "line": {"width": 2.4 if symbol == "x-thin" else 1.8, "color": hue},
            },
            text=[f"run {run}" for run in found.run[chosen]],
            textposition="top center",
            hoverinfo="text+y",
            cliponaxis=False,
            name=name,
        )


def _on_scale(fit: Fit) -> str:
    scale = getattr(fit.outcome, "scale", "as read")
    return "" if scale == "as read" else f"{scale} scale"


def _unit_words(fit: Fit) -> str:
    return (
        f"on the {_on_scale(fit)}" if _on_scale(fit) else f"in {unit_of(fit.outcome) or 'units'}"
    )


def _fitted_title(fit: Fit) -> str:
    unit = _on_scale(fit) or unit_of(fit.outcome)
    return f"fitted {label(fit.outcome.name)}" + (f", {label(unit)}" if unit else "")


def _residual_title(fit: Fit, found: Residuals) -> str:
    if found.kind:
        return "above (+) or below (−) the fit, in its SDs"
    unit = _on_scale(fit) or unit_of(fit.outcome)
    return "above (+) or below (−) the fit" + (f", {label(unit)}" if unit else "")
