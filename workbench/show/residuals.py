"""Residual checks: whether a run is odd, something drifted, the scatter is even."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

import numpy as np

from workbench.show.canvas import framed, new_figure, note, number_axis, rounded
from workbench.show.escape import label
from workbench.show.sentences import ODD, order_sentence, scatter_sentence
from workbench.show.theme import LIGHT

if TYPE_CHECKING:
    import plotly.graph_objects as go
    from numpy.typing import NDArray

    from workbench.fit.measured import MeasuredFit

ORDER_CAPTION = (
    "Each run minus the fit, in the order made, {unit}. Strips: blocks. Cross: further than "
    "three of its standard errors, from the fit to the other runs."
)


def residuals_in_order(fit: MeasuredFit) -> go.Figure:
    """Return residuals in run order on strips of blocks; odd runs as crosses with their number."""
    figure = new_figure()
    residuals = fit.diagnostics.residuals
    reach = 1.25 * float(np.abs(residuals).max(initial=0.0)) or 1.0
    _add_strips(figure, fit)
    _add_zero(figure, 0.5, len(fit.run) + 0.5)
    place = np.arange(1, len(fit.run) + 1, dtype=np.float64)
    _add_residuals(figure, fit, place)
    every = max(1, round(len(fit.run) / 16))
    figure.update_xaxes(
        title_text="run, in the order made",
        tickvals=[float(one) for one in place[::every]],
        ticktext=[str(one) for one in fit.run[::every]],
        range=[0.4, len(fit.run) + 0.6],
        showgrid=False,
    )
    figure.update_yaxes(
        title_text=_residual_title(fit), range=[-reach, reach], **number_axis(-reach, reach)
    )
    caption = ORDER_CAPTION.format(unit=_unit_words(fit))
    return framed(figure, order_sentence(fit), caption, height=320)


def residuals_by_fitted(fit: MeasuredFit) -> go.Figure:
    """Return residuals against fitted values: whether the scatter is even."""
    figure = new_figure()
    fitted, residuals = fit.diagnostics.fitted, fit.diagnostics.residuals
    reach = 1.25 * float(np.abs(residuals).max(initial=0.0)) or 1.0
    spare = 0.05 * (float(np.ptp(fitted)) or 1.0)
    ends = [float(fitted.min()) - spare, float(fitted.max()) + spare]
    _add_zero(figure, *ends)
    _add_residuals(figure, fit, fitted)
    figure.update_xaxes(title_text=_fitted_title(fit), range=ends, **number_axis(*ends))
    figure.update_yaxes(
        title_text=_residual_title(fit), range=[-reach, reach], **number_axis(-reach, reach)
    )
    figure.update_layout(width=620)
    caption = f"Each run minus the fit, against the fit, {_unit_words(fit)}. Even height: good."
    return framed(figure, scatter_sentence(fit), caption, height=330)


def _add_strips(figure: go.Figure, fit: MeasuredFit) -> None:
    start = 0.5
    for i, (block, rows) in enumerate(groupby(fit.block.tolist())):
        wide = len(list(rows))
        if len(fit.block_labels) > 1:
            figure.add_shape(
                type="rect",
                x0=start,
                x1=start + wide,
                y0=0,
                y1=1,
                yref="paper",
                fillcolor=LIGHT.panel if i % 2 else LIGHT.hair,
                opacity=0.9 if i % 2 else 0.45,
                line={"width": 0},
                layer="below",
            )
            note(
                figure,
                label(fit.block_labels[block]),
                x=start + wide / 2,
                y=1,
                yref="paper",
                yanchor="bottom",
                font={"size": 13, "color": LIGHT.quiet},
            )
        start += wide


def _add_zero(figure: go.Figure, low: float, high: float) -> None:
    figure.add_scatter(
        x=[low, high],
        y=[0, 0],
        mode="lines",
        line={"width": 2, "color": LIGHT.ink},
        hoverinfo="skip",
        name="fit",
    )


def _add_residuals(figure: go.Figure, fit: MeasuredFit, place: NDArray[np.float64]) -> None:
    checks = fit.diagnostics
    odd = ~checks.undefined & (np.abs(checks.studentised) > ODD)
    for chosen, symbol, hue, name in (
        (~odd, "circle", LIGHT.run, "runs"),
        (odd, "x-thin", LIGHT.fails, "odd runs"),
    ):
        if not chosen.any():
            continue
        figure.add_scatter(
            x=rounded(place[chosen]),
            y=rounded(checks.residuals[chosen]),
            mode="markers+text" if symbol == "x-thin" else "markers",
            marker={
                "size": 9,
                "symbol": symbol,
                "color": LIGHT.paper,
                "line": {"width": 2.4 if symbol == "x-thin" else 1.8, "color": hue},
            },
            text=[f"run {run}" for run in fit.run[chosen]],
            textposition="top center",
            hoverinfo="text+y",
            cliponaxis=False,
            name=name,
        )


def _on_scale(fit: MeasuredFit) -> str:
    return "" if fit.outcome.scale == "as read" else f"{fit.outcome.scale} scale"


def _unit_words(fit: MeasuredFit) -> str:
    return f"on the {_on_scale(fit)}" if _on_scale(fit) else f"in {fit.outcome.unit or 'units'}"


def _fitted_title(fit: MeasuredFit) -> str:
    unit = _on_scale(fit) or fit.outcome.unit
    return f"fitted {label(fit.outcome.name)}" + (f", {label(unit)}" if unit else "")


def _residual_title(fit: MeasuredFit) -> str:
    unit = _on_scale(fit) or fit.outcome.unit
    return "above (+) or below (−) the fit" + (f", {label(unit)}" if unit else "")
