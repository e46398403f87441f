"""Half-normal figure: which effects stand clear of scatter? (Daniel 1959, Technometrics 1)."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import betaincinv, ndtri

from workbench.errors import Unavailable
from workbench.show.canvas import framed, new_figure, rounded
from workbench.show.clarity import Clarity, clarity, is_on_ratio, pseudo_error
from workbench.show.escape import label
from workbench.show.sentences import stand_out_sentence
from workbench.show.theme import LIGHT

if TYPE_CHECKING:
    import plotly.graph_objects as go
    from numpy.typing import NDArray

    from workbench.fit.faces import Fit
    from workbench.fit.nouns import Effect

NEAR = 0.06  # of the largest size: two names nearer than this would overlap


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sizes:
    """Effects (m,) smallest first: sizes on the model scale, and one standard error of scatter."""

    effects: tuple[Effect, ...]
    found: NDArray[np.float64]
    yardstick: float
    unit: str


def half_normal(fit: Fit) -> go.Figure:
    """Return effect sizes against those expected from scatter alone, with line and 95 % band.

    Where runs give an error, sizes are in their own standard errors; where they give none, in
    the unit of the effects, scatter judged by Lenth's pseudo standard error. The band holds each
    size by itself with 95 % if scatter alone is at work: order statistics of a uniform sample
    follow a beta distribution.
    """
    figure = new_figure()
    sizes = _sizes(fit)
    m = sizes.found.size
    if m:
        _add_band(figure, sizes)
        _add_points(figure, fit, sizes)
    unit = f", {label(sizes.unit)}" if sizes.unit else ""
    figure.update_xaxes(title_text=f"size expected from scatter alone{unit}", rangemode="tozero")
    figure.update_yaxes(title_text=f"size found{unit}", rangemode="tozero")
    figure.update_layout(width=700, margin={"r": 160})
    caption = (
        "Each mark: one effect. Line and band: where it would lie if only scatter were at work "
        "(95\u00a0% for each mark)."
    )
    return framed(figure, stand_out_sentence(fit), caption, height=400)


def expected_sizes(m: int, chance: float | None = None) -> NDArray[np.float64]:
    """Return half-normal sizes (m,) of ordered scatter, in standard errors.

    Without `chance` the plotting positions (i − ½)/m of Daniel (1959); with it that quantile of
    each order statistic.
    """
    i = np.arange(1, m + 1, dtype=np.float64)
    place = (i - 0.5) / m if chance is None else betaincinv(i, m - i + 1, chance)
    return np.asarray(ndtri(0.5 + np.asarray(place) / 2), dtype=np.float64)


def _sizes(fit: Fit) -> Sizes:
    pseudo = pseudo_error(fit)
    if not isinstance(pseudo, Unavailable):
        sizes = np.array([_on_model_scale(one) for one in fit.effects])
        unit = "natural logarithm" if is_on_ratio(fit) else fit.effects[0].unit
        return _sorted(fit.effects, sizes, pseudo.value, unit=unit)
    known = tuple(one for one in fit.effects if not isinstance(one.estimate, Unavailable))
    sizes = np.array([_on_model_scale(one) / _error(one) for one in known])
    return _sorted(known, sizes, 1.0, unit="standard errors")


def _sorted(
    effects: tuple[Effect, ...], sizes: NDArray[np.float64], yardstick: float, *, unit: str
) -> Sizes:
    order = np.argsort(sizes, kind="stable")
    return Sizes(
        effects=tuple(effects[i] for i in order),
        found=np.asarray(sizes[order], dtype=np.float64),
        yardstick=yardstick,
        unit=unit,
    )


def _on_model_scale(effect: Effect) -> float:
    return abs(float(np.log(effect.value))) if effect.is_ratio else abs(effect.value)


def _error(effect: Effect) -> float:
    if isinstance(effect.estimate, Unavailable) or effect.estimate.std_error <= 0:
        return float("inf")
    return effect.estimate.std_error


def _add_band(figure: go.Figure, sizes: Sizes) -> None:
    m = sizes.found.size
    x = rounded(np.concatenate([[0.0], sizes.yardstick * expected_sizes(m)]))
    low = rounded(np.concatenate([[0.0], sizes.yardstick * expected_sizes(m, 0.025)]))
    high = rounded(np.concatenate([[0.0], sizes.yardstick * expected_sizes(m, 0.975)]))
    figure.add_scatter(
        x=x + x[::-1],
        y=low + high[::-1],
        mode="lines",
        line={"width": 0},
        fill="toself",
        fillcolor=LIGHT.noise,
        opacity=0.22,
        hoverinfo="skip",
        name="95\u00a0% band of scatter",
    )
    figure.add_scatter(
        x=[x[0], x[-1]],
        y=[x[0], x[-1]],
        mode="lines",
        line={"width": 1.6, "color": LIGHT.noise},
        hoverinfo="skip",
        name="scatter alone",
    )


def _add_points(figure: go.Figure, fit: Fit, sizes: Sizes) -> None:
    x = sizes.yardstick * expected_sizes(sizes.found.size)
    clear = np.array([clarity(one, fit) is Clarity.CLEAR for one in sizes.effects])
    for chosen, hue, fill, name in (
        (~clear, LIGHT.run, LIGHT.paper, "not told apart from scatter"),
        (clear, LIGHT.ink, LIGHT.ink, "stands out"),
    ):
        if not chosen.any():
            continue
        names = [one.name for one, is_in in zip(sizes.effects, chosen, strict=True) if is_in]
        figure.add_scatter(
            x=rounded(x[chosen]),
            y=rounded(sizes.found[chosen]),
            mode="markers+text" if fill == LIGHT.ink else "markers",
            marker={"size": 10, "color": fill, "line": {"width": 1.8, "color": hue}},
            text=[f"  {label(one)}  " for one in names],
            textposition=_sides(sizes.found[chosen], sizes.found.max()),
            hoverinfo="text+y",
            cliponaxis=False,
            name=name,
        )


def _sides(heights: NDArray[np.float64], top: float) -> list[str]:
    """Return on which side each name stands: alternating where two marks are near in height."""
    sides = ["middle right"]
    for before, now in pairwise(heights.tolist()):
        is_near = now - before < NEAR * top
        is_turned = is_near and sides[-1] == "middle right"
        sides.append("middle left" if is_turned else "middle right")
    return sides
