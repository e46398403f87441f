"""The look of every figure: colours named by meaning, one small template, light and dark."""

from __future__ import annotations

from dataclasses import dataclass

import plotly.graph_objects as go

SANS = "'Segoe UI','Helvetica Neue',Roboto,'Liberation Sans',Arial,sans-serif"


@dataclass(frozen=True, slots=True, kw_only=True)
class Palette:
    """Colours by meaning; contrast on the paper is stated in the tests, not by eye."""

    paper: str
    panel: str
    hair: str
    ink: str
    quiet: str
    meets: str
    fails: str
    unsure: str
    limit: str
    centre: str
    run: str
    noise: str
    low: str
    high: str
    chance: tuple[str, str, str, str, str, str]


LIGHT = Palette(
    paper="#FFFFFF",
    panel="#F6F4EF",
    hair="#DCD8CF",
    ink="#1B252D",
    quiet="#566069",
    meets="#07505F",
    fails="#C8450F",
    unsure="#9582CC",
    limit="#6E1F2B",
    centre="#4B46A8",
    run="#33414B",
    noise="#7C858C",
    low="#6C8FC4",
    high="#1F3A78",
    chance=("#F4EEE2", "#BDCFC5", "#88B0A8", "#628E90", "#3C6E77", "#0A4F60"),
)
DARK = Palette(
    paper="#12181D",
    panel="#1B2329",
    hair="#36414A",
    ink="#EEF1F2",
    quiet="#A9B3BA",
    meets="#55CDD6",
    fails="#F5713A",
    unsure="#8676C8",
    limit="#F3D9B1",
    centre="#B9B4FF",
    run="#D5DDE2",
    noise="#87929A",
    low="#5E86C6",
    high="#BFD6FF",
    chance=("#232B31", "#2C5058", "#2F7981", "#5D9FA6", "#8EC6CA", "#BFEFF0"),
)
ONE_HUES = (
    "paper",
    "panel",
    "hair",
    "ink",
    "quiet",
    "meets",
    "fails",
    "unsure",
    "limit",
    "centre",
    "run",
    "noise",
    "low",
    "high",
)

# Named steps of the chance that a new part meets everything, and the chances between them.
CHANCE_CUTS = (0.50, 0.80, 0.90, 0.95, 0.99)
CHANCE_NAMES = (
    "below 50\u00a0%",
    "50 to 80\u00a0%",
    "80 to 90\u00a0%",
    "90 to 95\u00a0%",
    "95 to 99\u00a0%",
    "99\u00a0% or more",
)


def dark_partners() -> dict[str, str]:
    """Return for each light colour the one that stands in its place on dark paper."""
    pairs = {getattr(LIGHT, name): getattr(DARK, name) for name in ONE_HUES}
    return pairs | dict(zip(LIGHT.chance, DARK.chance, strict=True))


def _axis() -> dict[str, object]:
    return {
        "showgrid": True,
        "gridcolor": LIGHT.hair,
        "gridwidth": 1,
        "zeroline": False,
        "showline": False,
        "ticks": "",
        "ticklabelstandoff": 6,
        "automargin": True,
        "tickangle": 0,
        "title": {"standoff": 12, "font": {"size": 14, "color": LIGHT.quiet}},
        "tickfont": {"size": 14, "color": LIGHT.quiet},
        "separatethousands": False,
        "minexponent": 5,
    }


def template() -> go.layout.Template:
    """Return the template that all figures share: ink on a ground that shines through."""
    return go.layout.Template(
        layout={
            "font": {"family": SANS, "size": 15, "color": LIGHT.ink},
            "paper_bgcolor": "rgba(0,0,0,0)",
            "plot_bgcolor": "rgba(0,0,0,0)",
            "colorway": [LIGHT.run, LIGHT.high, LIGHT.low, LIGHT.centre, LIGHT.noise],
            "title": {
                "x": 0,
                "xref": "container",
                "xanchor": "left",
                "y": 1,
                "yref": "container",
                "yanchor": "top",
                "pad": {"t": 14, "l": 16},
                "font": {"size": 19, "weight": 650},
                "subtitle": {"font": {"size": 14, "color": LIGHT.quiet}},
            },
            "margin": {"l": 72, "r": 32, "t": 84, "b": 60},
            "xaxis": _axis(),
            "yaxis": _axis(),
            "showlegend": False,
            "hovermode": "closest",
            "dragmode": False,
            "hoverlabel": {
                "bgcolor": LIGHT.paper,
                "bordercolor": LIGHT.ink,
                "font": {"size": 14, "color": LIGHT.ink},
            },
            "separators": ". ",
            "annotationdefaults": {"font": {"size": 14}, "showarrow": False},
        }
    )
