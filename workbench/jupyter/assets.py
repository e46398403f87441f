"""The scripts and styles of the panels: plain files in the package, joined as they are."""

from __future__ import annotations

from functools import cache
from importlib.resources import files


@cache
def script(name: str) -> str:
    """Return the ES module of a panel, what every panel shares in front of it."""
    return f"{_read('base.js')}\n{_read(name)}"


@cache
def styles() -> str:
    """Return the style of all panels."""
    return _read("panel.css")


def _read(name: str) -> str:
    return files("workbench.jupyter").joinpath("static", name).read_text(encoding="utf-8")
