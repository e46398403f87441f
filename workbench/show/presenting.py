"""What leads a meeting through a page: keys, buttons, and how the numbers of a screen came."""

from __future__ import annotations

import shlex
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from workbench.show.escape import Html, text

# Hidden until the script runs: buttons that do nothing are worse than none.
BAR = (
    '<div class="present" role="group" aria-label="Go through the screens" hidden>'
    '<button type="button" data-do="previous">Previous</button>'
    '<span class="place" role="status"></span>'
    '<button type="button" data-do="next">Next</button>'
    '<button type="button" data-do="detail" aria-pressed="false">Hide detail</button>'
    '<button type="button" data-do="keys" aria-pressed="true">Keys on</button>'
    '<span class="keys">Keys: <kbd>→</kbd>, <kbd>Page Down</kbd> or <kbd>Space</kbd> next; '
    "<kbd>←</kbd> or <kbd>Page Up</kbd> previous; <kbd>d</kbd> detail</span></div>"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """How the numbers of a screen were made: a command, the same as a call, and `says`."""

    command: str
    call: str
    says: str = ""


@cache
def presenting_script() -> str:
    """Return the script of the keys and buttons, as it ships with the package."""
    return files("workbench.show").joinpath("presenting.js").read_text(encoding="utf-8")


def made_block(made: Made | None) -> Html:
    """Return how a screen was made, to open on demand; nothing where that is not known."""
    if made is None:
        return Html("")
    says = f"<p>{text(made.says)}</p>" if made.says else ""
    return Html(
        '<details class="made print"><summary>How this was made</summary>'
        f"<p>At the command line: <code>{text(made.command)}</code></p>"
        f"<p>In a notebook: <code>{text(made.call)}</code></p>{says}</details>"
    )


def option(name: str, value: object) -> str:
    """Return an option as it is typed into a shell, its value quoted where a shell would act.

    >>> option("--outcome", "peel force")
    "--outcome 'peel force'"
    """
    return f"{name} {shlex.quote(str(value))}"
