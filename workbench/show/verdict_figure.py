"""Parts of a confirmation against their limits and against what was foreseen of them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.define.outcomes import Measured
from workbench.errors import Unavailable
from workbench.show.canvas import framed, log_axis, new_figure, note, number_axis, rounded
from workbench.show.escape import label
from workbench.show.numbers import short
from workbench.show.theme import LIGHT
from workbench.show.words import listed

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from workbench.decide.confirmation import ConfirmationPlan, Foreseen, Place
    from workbench.decide.verdict import SeenOutcome, Verdict
    from workbench.define.trial import Trial

ROW = 84  # height of a place, px
SPREAD = 0.2  # of a row: how far marks of one place are moved apart
HATCH = 0.013  # of the width: how far a tooth of a wall stands beyond it
TEETH = 7  # of a wall, for each place
CAPTION = (
    "Pale bar: where 95 of 100 new parts were foreseen; dark bar in it: their mean. Circle: a "
    "part that was built; cross: it misses the limit; diamond: it lies outside the pale bar. "
    "Upright stroke: mean of the parts. Hatched wall: the requirement."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """One place: what was foreseen of the outcome there and what was seen."""

    place: Place
    foreseen: Foreseen
    seen: SeenOutcome


def parts_against_limits(
    plan: ConfirmationPlan, verdict: Verdict, trial: Trial, *, outcome: str
) -> go.Figure | Unavailable:
    """Return one measured outcome: its parts at each place, its limits, and what was foreseen.

    Unavailable for an outcome that is not measured, or of which no plain reading was taken.
    """
    asked = trial.outcome(outcome)
    rows = _rows(plan, verdict, outcome)
    if not isinstance(asked, Measured):
        return Unavailable(reason=f"{outcome} is not measured")
    if not any(row.seen.values for row in rows):
        return Unavailable(reason=f"no plain reading of {outcome} was taken")
    figure = new_figure()
    for y, row in enumerate(rows):
        _foreseen(figure, row, y)
        _parts(figure, row, y, outcome=asked)
        _name(figure, row, y)
    scale = _span(rows, asked)
    _walls(figure, asked, scale, n_rows=len(rows))
    _axes(figure, asked, scale, n_rows=len(rows))
    said = _sentence(rows, outcome)
    return framed(figure, said, CAPTION, height=90 + ROW * len(rows))


def parts_sentence(plan: ConfirmationPlan, verdict: Verdict, outcome: str) -> str:
    """Return the answer that the figure of an outcome shows, with its numbers."""
    return _sentence(_rows(plan, verdict, outcome), outcome)


def _sentence(rows: list[_Row], outcome: str) -> str:
    planned = sum(row.seen.tally.planned for row in rows)
    missed = sum(row.seen.tally.failed for row in rows)
    off = [row.place.name for row in rows if row.seen.mean_as_foreseen is False]
    met = (
        f"{outcome}: none of {planned} parts misses its limit"
        if missed == 0
        else f"{outcome}: {missed} of {planned} parts miss their limit"
    )
    where = f"; its mean is not as foreseen at the {listed(off)}" if off else ""
    return f"{met}{where}" if off else f"{met}, and its means came out as foreseen"


def _rows(plan: ConfirmationPlan, verdict: Verdict, outcome: str) -> list[_Row]:
    seen = {(place.name, one.outcome): one for place in verdict.places for one in place.outcomes}
    return [
        _Row(place=place, foreseen=one, seen=seen[place.name, outcome])
        for place in reversed(plan.places)
        for one in place.outcomes
        if one.outcome == outcome and (place.name, outcome) in seen
    ]


def _foreseen(figure: go.Figure, row: _Row, y: int) -> None:
    ends = (
        (row.foreseen.new_part_low, row.foreseen.new_part_high, 30, LIGHT.hair),
        (row.foreseen.parts_mean_low, row.foreseen.parts_mean_high, 9, LIGHT.noise),
    )
    for low, high, width, color in ends:
        if isinstance(low, Unavailable) or isinstance(high, Unavailable):
            continue
        figure.add_scatter(
            x=rounded([low, high]),
            y=[y, y],
            mode="lines",
            line={"width": width, "color": color},
            hoverinfo="skip",
            name="foreseen",
        )


def _parts(figure: go.Figure, row: _Row, y: int, *, outcome: Measured) -> None:
    values = row.seen.values
    for name, color, symbol, is_open in (
        ("part", LIGHT.run, "circle", True),
        ("part outside what was foreseen", LIGHT.unsure, "diamond", False),
        ("part that misses the limit", LIGHT.fails, "x", False),
    ):
        chosen = [i for i, value in enumerate(values) if _kind(row, outcome, value) == name]
        if not chosen:
            continue
        figure.add_scatter(
            x=rounded(values[i] for i in chosen),
            y=[round(y + _moved(i), 4) for i in chosen],
            mode="markers",
            marker={
                "symbol": f"{symbol}-open" if is_open else symbol,
                "size": 10 if is_open else 12,
                "color": color,
                "line": {"width": 1.8 if is_open else 1, "color": color},
            },
            hovertemplate="%{x}<extra></extra>",
            name=name,
        )
    if not isinstance(row.seen.mean, Unavailable):
        figure.add_scatter(
            x=rounded([row.seen.mean, row.seen.mean]),
            y=[y - 0.3, y + 0.3],
            mode="lines",
            line={"width": 2.5, "color": LIGHT.ink},
            hoverinfo="skip",
            name="mean of the parts",
        )


def _kind(row: _Row, outcome: Measured, value: float) -> str:
    limits = outcome.requirement
    if limits is not None and (
        (limits.low is not None and value < limits.low)
        or (limits.high is not None and value > limits.high)
    ):
        return "part that misses the limit"
    low, high = row.foreseen.new_part_low, row.foreseen.new_part_high
    if isinstance(low, Unavailable) or isinstance(high, Unavailable) or low <= value <= high:
        return "part"
    return "part outside what was foreseen"


def _moved(i: int) -> float:
    """Return how far the i-th mark is moved up or down, so that equal readings are seen."""
    return SPREAD * ((i % 5) - 2) / 2


def _name(figure: go.Figure, row: _Row, y: int) -> None:
    tally = row.seen.tally
    note(
        figure,
        f"<b>{label(row.place.name)}</b><br>"
        f'<span style="font-size:14px">{tally.met} of {tally.planned} meet it</span>',
        x=-0.02,
        xref="paper",
        y=y,
        xanchor="right",
        align="right",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scale:
    """The span of the axis, and whether it is logarithmic."""

    low: float
    high: float
    is_log: bool

    def beyond(self, value: float, side: int) -> float:
        """Return a place beside a value by the length of a tooth."""
        if self.is_log:
            return value * math.exp(side * HATCH * math.log(self.high / self.low))
        return value + side * HATCH * (self.high - self.low)


def _span(rows: list[_Row], outcome: Measured) -> _Scale:
    values = [value for row in rows for value in row.seen.values]
    for row in rows:
        ends = (row.foreseen.new_part_low, row.foreseen.new_part_high)
        values += [end for end in ends if not isinstance(end, Unavailable)]
    if outcome.requirement is not None:
        limits = (outcome.requirement.low, outcome.requirement.high)
        values += [end for end in limits if end is not None]
    is_log = outcome.scale == "log" and min(values) > 0
    low, high = min(values), max(values)
    if is_log:
        room = (high / low) ** 0.06 if high > low else 1.1
        return _Scale(low=low / room, high=high * room, is_log=True)
    room = 0.06 * (high - low) or abs(high) * 0.05 or 1.0
    return _Scale(low=low - room, high=high + room, is_log=False)


def _walls(figure: go.Figure, outcome: Measured, scale: _Scale, *, n_rows: int) -> None:
    limits = outcome.requirement
    if limits is None:
        return
    bottom, top = -0.55, n_rows - 0.45
    for value, side in ((limits.low, -1), (limits.high, 1)):
        if value is None:
            continue
        figure.add_scatter(
            x=rounded([value, value]),
            y=[bottom, top],
            mode="lines",
            line={"width": 3, "color": LIGHT.limit},
            hoverinfo="skip",
            name="requirement",
        )
        count = TEETH * n_rows
        figure.add_scatter(
            x=rounded([scale.beyond(value, side)] * count),
            y=[round(bottom + (top - bottom) * (k + 0.5) / count, 4) for k in range(count)],
            mode="markers",
            marker={
                "symbol": "line-ne-open",
                "size": 9,
                "color": LIGHT.limit,
                "line": {"width": 1.6, "color": LIGHT.limit},
            },
            hoverinfo="skip",
            name="fails beyond",
        )
        note(
            figure,
            f"{'at least' if side < 0 else 'at most'} {short(value)}",
            x=math.log10(value) if scale.is_log else value,
            y=top + 0.02,
            yanchor="bottom",
            font={"color": LIGHT.limit, "size": 14},
        )


def _axes(figure: go.Figure, outcome: Measured, scale: _Scale, *, n_rows: int) -> None:
    unit = f", {outcome.unit}" if outcome.unit not in ("", "1") else ""
    ticks = (log_axis if scale.is_log else number_axis)(scale.low, scale.high)
    ends = [scale.low, scale.high]
    figure.update_xaxes(
        type="log" if scale.is_log else "linear",
        range=rounded([math.log10(end) for end in ends] if scale.is_log else ends),
        title_text=label(f"{outcome.name}{unit}"),
        **ticks,
    )
    figure.update_yaxes(
        range=[-0.6, n_rows - 0.2], showgrid=False, showticklabels=False, fixedrange=True
    )
    figure.update_layout(margin={"l": 150, "r": 40, "b": 60})
