"""Observed beside expected: whether the model says what the runs say."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.define.outcomes import Counted, Graded, Measured, PassFail
from workbench.show.canvas import framed, log_axis, new_figure, number_axis, rounded
from workbench.show.escape import label
from workbench.show.measures import measure
from workbench.show.numbers import short, with_unit
from workbench.show.run_marks import BEYOND, legend_above, sizes
from workbench.show.seen_rows import seen_rows
from workbench.show.theme import LIGHT
from workbench.show.words import sentence

if TYPE_CHECKING:
    import plotly.graph_objects as go
    from numpy.typing import NDArray

    from workbench.define.outcomes import Outcome
    from workbench.fit.outcome_model import OutcomeModel
    from workbench.show.seen_rows import Seen

SPARE = 0.05  # of the range, left on each side


def observed_beside_expected(fit: OutcomeModel) -> go.Figure:
    """Return what was observed over what the model expects, with the line where they agree.

    Pass/fail: the share passed at each combination of settings, with exact limits. Grades and
    counts: marks grow with the runs that fall together. Readings cut off are arrows.
    """
    seen, figure = seen_rows(fit), new_figure()
    times = _times(fit.outcome)
    ends = _ends(fit.outcome, seen)
    _add_line(figure, ends)
    if seen.limits is not None:
        _add_limits(figure, seen, times)
    _add_marks(figure, seen, times)
    _scale_axes(figure, fit, ends)
    figure.update_layout(width=620)
    return framed(figure, agreement_sentence(fit, seen), _caption(fit, seen), height=400)


def agreement_sentence(fit: OutcomeModel, seen: Seen) -> str:
    """Return whether what was seen lies where the model expects it."""
    if seen.observed.size == 0:
        return f"Whether the model of {fit.outcome.name} fits is open: it keeps no rows"
    if seen.limits is None:
        return _farthest(fit, seen)
    outside = (seen.expected < seen.limits.low) | (seen.expected > seen.limits.high)
    many, off = seen.observed.size, int(outside.sum())
    places = "combination of settings" if many == 1 else "combinations of settings"
    if off == 0:
        return f"The model lies within the limits of all {many} {places}"
    return f"The model lies outside the 95\u00a0% limits of {off} of {many} {places}"


def _farthest(fit: OutcomeModel, seen: Seen) -> str:
    """Return how far the outermost reading that was not cut off lies from the model."""
    own = seen.mark == 0
    name = fit.outcome.name
    if not own.any():
        return sentence(f"every reading of {name} is cut off: whether the model fits is open")
    observed, expected = seen.observed[own], seen.expected[own]
    if _is_log(fit.outcome) and (expected > 0).all():
        far = float(np.exp(np.abs(np.log(observed / expected)).max()))
        return f"Observed {name} lies within ×/÷{short(far, 3)} of what the model expects"
    off = short(float(np.abs(observed - expected).max()), 2)
    unit = "grades" if isinstance(fit.outcome, Graded) else measure(fit.outcome).unit
    return f"Observed {name} lies within {with_unit(off, unit)} of what the model expects"


def _is_log(outcome: Outcome) -> bool:
    return isinstance(outcome, Measured) and outcome.scale == "log"


def _times(outcome: Outcome) -> float:
    return 100.0 if isinstance(outcome, PassFail) else 1.0


def _ends(outcome: Outcome, seen: Seen) -> tuple[float, float]:
    if isinstance(outcome, PassFail):
        return 0.0, 100.0
    if isinstance(outcome, Graded):
        return 0.0, len(outcome.grades) - 1.0
    values = np.concatenate([seen.expected, seen.observed, [0.0] * isinstance(outcome, Counted)])
    return (float(values.min()), float(values.max())) if values.size else (0.0, 1.0)


def _add_line(figure: go.Figure, ends: tuple[float, float]) -> None:
    figure.add_scatter(
        x=rounded(ends),
        y=rounded(ends),
        mode="lines",
        line={"width": 2, "color": LIGHT.ink},
        hoverinfo="skip",
        name="where they agree",
    )


def _add_limits(figure: go.Figure, seen: Seen, times: float) -> None:
    if seen.limits is None:
        return
    x: list[float | None] = []
    y: list[float | None] = []
    for at, low, high in zip(seen.expected, seen.limits.low, seen.limits.high, strict=True):
        x += [*rounded([times * at, times * at]), None]
        y += [*rounded([times * low, times * high]), None]
    figure.add_scatter(
        x=x,
        y=y,
        mode="lines",
        line={"width": 1.8, "color": LIGHT.noise},
        hoverinfo="skip",
        connectgaps=False,
        name="exact 95\u00a0% limits",
    )


def _add_marks(figure: go.Figure, seen: Seen, times: float) -> None:
    size = np.array(sizes(seen.weight))
    groups = [(0, "circle", "observed"), *BEYOND]
    for mark, symbol, name in groups:
        own: NDArray[np.bool_] = seen.mark == mark
        if not own.any():
            continue
        figure.add_scatter(
            x=rounded(times * seen.expected[own]),
            y=rounded(times * seen.observed[own]),
            mode="markers",
            marker={
                "size": size[own].tolist() if mark == 0 else 13,
                "symbol": symbol,
                "color": LIGHT.paper,
                "opacity": 1,
                "line": {"width": 1.8, "color": LIGHT.run if mark == 0 else LIGHT.centre},
            },
            text=[label(one) for one, is_in in zip(seen.words, own, strict=True) if is_in],
            hoverinfo="text+x+y",
            cliponaxis=False,
            name=name,
            showlegend=bool(seen.mark.any()),
        )
    if seen.mark.any():
        legend_above(figure)


def _scale_axes(figure: go.Figure, fit: OutcomeModel, ends: tuple[float, float]) -> None:
    outcome = fit.outcome
    unit = _axis_unit(fit)
    for update, word in ((figure.update_xaxes, "expected"), (figure.update_yaxes, "observed")):
        update(title_text=f"{word}{unit}")
        if isinstance(outcome, Graded):
            update(
                tickvals=list(range(len(outcome.grades))),
                ticktext=[label(one) for one in outcome.grades],
                range=[-0.4, len(outcome.grades) - 0.6],
            )
        elif _is_log(outcome) and ends[0] > 0:
            span = np.log10(ends[1] / ends[0]) or 1.0
            logs = np.log10(ends) + SPARE * span * np.array([-1, 1])
            update(type="log", range=logs.tolist(), **log_axis(*ends))
        else:
            spare = SPARE * (ends[1] - ends[0] or 1.0)
            update(range=[ends[0] - spare, ends[1] + spare], **number_axis(*ends))


def _axis_unit(fit: OutcomeModel) -> str:
    if isinstance(fit.outcome, PassFail):
        return " share that passes, %"
    if isinstance(fit.outcome, Graded):
        return " grade"
    unit = label(measure(fit.outcome).unit)
    return f" {label(fit.outcome.name)}" + (f", {unit}" if unit else "")


def _caption(fit: OutcomeModel, seen: Seen) -> str:
    if seen.limits is not None:
        return (
            f"{sentence(measure(fit.outcome).mean)} at each combination of settings; bars: "
            "exact 95 % limits if each part were a try of its own; line: the model is right. "
            "Larger: more parts."
        )
    what = {
        "graded": "The grade of each run over the mean number of the grade that is expected",
        "counted": "The count on a part over the mean count that is expected",
    }.get(fit.kind, f"Each reading of {fit.outcome.name} over what the model expects")
    larger = " Larger: more runs at one place." if np.ptp(seen.weight) > 0 else ""
    cut = " Arrows: cut off, the value lies beyond." if seen.mark.any() else ""
    return f"{sentence(what)}; on the line they agree.{larger}{cut}"
