"""The style sheet that report, run sheet and notebook tables share."""

from __future__ import annotations

from functools import cache
from importlib.resources import files


@cache
def style_sheet() -> str:
    """Return the style sheet, as it ships with the package."""
    return files("workbench.show").joinpath("style.css").read_text(encoding="utf-8")


# The mark of the project: a window with its set point, inside the range tried.
MARK = (
    '<svg width="44" height="18" viewBox="0 0 44 18" aria-hidden="true">'
    '<path d="M0 9h44" stroke="var(--noise)" stroke-width="1.5"/>'
    '<rect x="10" y="4" width="24" height="10" fill="var(--meets)"/>'
    '<path d="M10 1v16M34 1v16" stroke="var(--limit)" stroke-width="3"/>'
    '<path d="M22 3l6 6-6 6-6-6z" fill="var(--paper)" stroke="var(--ink)" stroke-width="2.2"/>'
    "</svg>"
)
