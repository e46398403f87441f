"""What every figure starts from: a titled frame, rounded lists, wrapped labels."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

import numpy as np
import plotly.graph_objects as go

from workbench.show.escape import label
from workbench.show.theme import template

if TYPE_CHECKING:
    from collections.abc import Iterable

WIDE = 860
SMALL = 420
TITLE_SIZE, CAPTION_SIZE = 24, 19  # height of a line of each, px
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


def note(figure: go.Figure, words: str, **place: object) -> None:
    """Write words (already escaped) into a figure at a place in plotly's annotation terms."""
    figure.add_annotation({"text": words, "showarrow": False} | place)
