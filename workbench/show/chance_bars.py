"""Chance to detect: whether a plan would find what matters."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.errors import Unavailable
from workbench.show.canvas import framed, new_figure, note, number_axis, rounded
from workbench.show.escape import label
from workbench.show.numbers import percent, ratio, short, with_unit
from workbench.show.theme import LIGHT
from workbench.show.words import listed

if TYPE_CHECKING:
    import plotly.graph_objects as go

ROW = 38


@dataclass(frozen=True, slots=True, kw_only=True)
class ChanceRow:
    """Sizes of one effect that a plan finds with a low, a middle and a high chance.

    `is_slow` says that few resets of slow settings judge it.
    """

    effect_of: str
    low: float | Unavailable
    middle: float | Unavailable
    high: float | Unavailable
    is_slow: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ChanceRows:
    """What a plan finds of one outcome; sizes in its unit, or ratios, and the scatter assumed.

    `chances` are those of the ends and the mark of each row, such as 0.5, 0.8 and 0.95.
    """

    outcome: str
    unit: str
    is_ratio: bool
    sd: float
    worth_finding: float | None
    alpha: float
    chances: tuple[float, float, float]
    rows: tuple[ChanceRow, ...]

    @property
    def missed(self) -> tuple[str, ...]:
        """Effects of the size worth finding that would be missed at the middle chance."""
        if self.worth_finding is None:
            return ()
        return tuple(
            one.effect_of
            for one in self.rows
            if isinstance(one.middle, Unavailable) or one.middle > self.worth_finding
        )


def chance_to_detect(found: ChanceRows) -> go.Figure:
    """Return a row for each effect: bar over the low to high chance, mark at the middle one."""
    figure = new_figure()
    places = {one.effect_of: len(found.rows) - 1 - i for i, one in enumerate(found.rows)}
    _add_worth(figure, found)
    for is_missed in (False, True):
        _add_rows(figure, found, places, is_missed=is_missed)
    for one in found.rows:
        note(
            figure,
            _verdict(one, found),
            x=1.02,
            xref="paper",
            y=places[one.effect_of],
            xanchor="left",
            yanchor="middle",
            align="left",
        )
    figure.update_yaxes(
        tickvals=list(places.values()),
        ticktext=[_row_name(one) for one in found.rows],
        range=[-0.6, len(found.rows) - 0.2],
        showgrid=False,
        tickfont={"size": 15, "color": LIGHT.ink},
    )
    _scale_axis(figure, found)
    return framed(
        figure, chance_sentence(found), _caption(found), height=max(140, 100 + ROW * len(places))
    )


def chance_sentence(found: ChanceRows) -> str:
    """Return whether the plan would find what matters in the outcome."""
    if found.worth_finding is None:
        return f"What is worth finding in {found.outcome} is open: nobody has said it"
    worth = _size(found, found.worth_finding)
    if not found.missed:
        return f"An effect of {worth} on {found.outcome} would be found, whichever factor has it"
    if len(found.missed) == len(found.rows):
        return f"An effect of {worth} on {found.outcome} could be missed, whichever factor has it"
    return f"An effect of {worth} on {found.outcome} could be missed: {listed(found.missed)}"


def _caption(found: ChanceRows) -> str:
    low, middle, high = (percent(one) for one in found.chances)
    worth = "" if found.worth_finding is None else " Dashed: worth finding."
    return (
        f"Size that is found with a chance of {low} to {high} (bar) and {middle} (mark), if runs "
        f"scatter by {_size(found, found.sd)}; two-sided test at {percent(found.alpha)}.{worth}"
    )


def _add_worth(figure: go.Figure, found: ChanceRows) -> None:
    if found.worth_finding is None:
        return
    figure.add_scatter(
        x=rounded([found.worth_finding] * 2),
        y=[-0.55, len(found.rows) - 0.35],
        mode="lines",
        line={"width": 2, "color": LIGHT.centre, "dash": "dash"},
        hoverinfo="skip",
        name="worth finding",
    )


def _add_rows(
    figure: go.Figure, found: ChanceRows, places: dict[str, int], *, is_missed: bool
) -> None:
    chosen = [
        (places[one.effect_of], one.low, one.middle, one.high)
        for one in found.rows
        if (one.effect_of in found.missed) is is_missed
    ]
    known = [
        (y, low, middle, high)
        for y, low, middle, high in chosen
        if not isinstance(low, Unavailable)
        and not isinstance(middle, Unavailable)
        and not isinstance(high, Unavailable)
    ]
    if not known:
        return
    hue = LIGHT.unsure if is_missed else LIGHT.meets
    x: list[float] = []
    y_bar: list[float | None] = []
    for y, low, _, high in known:
        x += [low, high, math.nan]
        y_bar += [y, y, None]
    figure.add_scatter(
        x=rounded(x),
        y=y_bar,
        mode="lines",
        line={"width": 9, "color": hue},
        opacity=0.55,
        hoverinfo="skip",
        connectgaps=False,
        name="low to high chance",
    )
    figure.add_scatter(
        x=rounded([middle for _, _, middle, _ in known]),
        y=[y for y, _, _, _ in known],
        mode="markers",
        marker={
            "size": 12,
            "color": LIGHT.paper if is_missed else hue,
            "line": {"width": 2.5, "color": hue},
        },
        hovertemplate="%{x}<extra></extra>",
        cliponaxis=False,
        name="would miss it" if is_missed else "finds it",
    )


def _verdict(one: ChanceRow, found: ChanceRows) -> str:
    if isinstance(one.middle, Unavailable):
        return "not known"
    size = f"<b>{label(_size(found, one.middle))}</b>"
    if found.worth_finding is None:
        return size
    return f"{size}  {'would miss it' if one.effect_of in found.missed else 'finds it'}"


def _row_name(one: ChanceRow) -> str:
    return label(one.effect_of) + (" (slow)" if one.is_slow else "")


def _size(found: ChanceRows, size: float) -> str:
    return ratio(size, 2) if found.is_ratio else with_unit(short(size, 3), found.unit)


def _scale_axis(figure: go.Figure, found: ChanceRows) -> None:
    sizes = [
        size
        for one in found.rows
        for size in (one.low, one.high)
        if not isinstance(size, Unavailable)
    ]
    sizes += [] if found.worth_finding is None else [found.worth_finding]
    far = 1.06 * max(sizes, default=1.0)
    figure.update_layout(margin={"r": 210, "b": 64})
    if found.is_ratio:
        shown = [1.0, *(_ratio_ticks(far) if far < 5 else (2.0, 5.0, 10.0, 100.0, 1000.0))]
        figure.update_xaxes(
            type="log",
            range=[0, math.log10(far)],
            tickvals=shown,
            ticktext=["no change" if t == 1 else f"×{short(t)}" for t in shown],
            title_text=f"{label(found.outcome)}, high setting compared with low",
        )
        return
    unit = f", {label(found.unit)}" if found.unit else ""
    figure.update_xaxes(
        range=[0, far],
        title_text=f"difference in {label(found.outcome)}{unit}",
        **number_axis(0, far),
    )


def _ratio_ticks(far: float) -> list[float]:
    step = 0.1 if far < 1.7 else 0.2 if far < 2.4 else 0.5
    return [round(1 + step * i, 2) for i in range(1, int((far - 1) / step) + 1)]
