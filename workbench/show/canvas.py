"""What every figure starts from: a titled frame, rounded lists, wrapped labels."""

from __future__ import annotations

import math
import textwrap
from typing import TYPE_CHECKING

import numpy as np
import plotly.graph_objects as go

from workbench.show.escape import label
from workbench.show.numbers import decimals_of, fixed, short
from workbench.show.theme import template

if TYPE_CHECKING:
    from collections.abc import Iterable

WIDE = 860
SMALL = 420
TITLE_SIZE, CAPTION_SIZE = 24, 19  # height of a line of each, px
NICE_STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)
NARROW_LOG = 4.0  # below this a log axis is marked like a straight one
WIDE_LOG = 2000.0  # beyond this only powers of ten are marked
DIGITS = 7  # of a number in a figure: finer than any screen, and the same on any machine


def rounded(values: Iterable[float]) -> list[float | None]:
    """Return plain numbers to seven digits; None where there is none, so that lines break."""
    return [
        float(f"{value:.{DIGITS}g}") if np.isfinite(value) else None
        for value in np.asarray(list(values), dtype=np.float64)
    ]


def wrapped(words: str, width: int) -> str:
    """Return words escaped for a figure, broken into lines of at most `width` signs."""
    return "<br>".join(label(line) for line in lines_of(words, width))


def lines_of(words: str, width: int) -> list[str]:
    """Return words broken into lines of at most `width` signs; a no-break space holds."""
    held = words.replace("\u00a0", "\0")
    cut = textwrap.wrap(held, width, break_long_words=True, break_on_hyphens=False)
    return [line.replace("\0", "\u00a0") for line in cut] or [""]


def new_figure() -> go.Figure:
    """Return an empty figure in the look of the workbench."""
    return go.Figure(layout={"template": template()})


def framed(figure: go.Figure, sentence: str, caption: str, *, height: int) -> go.Figure:
    """Return the figure with its answer as the title and what is drawn in the line under it.

    `height` is that of the drawing alone, px; the title adds its lines. The width is the one
    already set, or that of a wide figure.
    """
    width = figure.layout.width or WIDE
    title = lines_of(sentence, int(width / 10.2))
    under = lines_of(caption, int(width / 7.4)) if caption else []
    top = 14 + TITLE_SIZE * len(title) + CAPTION_SIZE * len(under) + 22
    figure.update_layout(
        width=width,
        height=height + top,
        margin_t=top,
        title={
            "text": "<br>".join(label(line) for line in title),
            "subtitle": {"text": "<br>".join(label(line) for line in under)},
        },
    )
    figure.update_layout(meta={"height": height})
    return figure


def bare(figure: go.Figure) -> go.Figure:
    """Return a copy without title and fixed width, for a page that says the title itself."""
    plain = go.Figure(figure)
    height = figure.layout.meta["height"] if figure.layout.meta else figure.layout.height
    plain.update_layout(title=None, width=None, autosize=True, margin_t=28, height=height + 28)
    return plain


def round_ticks(low: float, high: float, *, about: int = 6) -> list[float]:
    """Return round numbers from low to high, about so many, ends included if they are round."""
    if not high > low:
        return [low]
    rough = (high - low) / about
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(nice * power for nice in NICE_STEPS if nice * power >= rough * 0.999)
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [round(k * step, 12) for k in range(first, last + 1)]


def number_axis(low: float, high: float, *, about: int = 6) -> dict[str, list[float] | list[str]]:
    """Return ticks of an axis, all to the same decimal."""
    ticks = round_ticks(low, high, about=about)
    decimals = decimals_of(ticks, most=9)
    return {"tickvals": ticks, "ticktext": [fixed(one, decimals) for one in ticks]}


def log_axis(low: float, high: float) -> dict[str, list[float] | list[str]]:
    """Return ticks of a logarithmic axis at 1, 2, 5, 10…, each as short as it can be written."""
    powers = range(math.floor(math.log10(low)) - 1, math.ceil(math.log10(high)) + 1)
    if high / low < NARROW_LOG:
        return number_axis(low, high)
    many = high / low > WIDE_LOG
    ticks = [
        round(lead * 10.0**power, 12)
        for power in powers
        for lead in ((1,) if many else (1, 2, 5))
        if low * 0.98 <= lead * 10.0**power <= high * 1.02
    ]
    return {"tickvals": ticks, "ticktext": [short(one) for one in ticks]}


def note(figure: go.Figure, words: str, **place: object) -> None:
    """Write words (already escaped) into a figure at a place in plotly's annotation terms."""
    figure.add_annotation({"text": words, "showarrow": False} | place)
