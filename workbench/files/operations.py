"""Starters for the operations of the trade: a filled-in, commented trial.toml for each."""

from __future__ import annotations

from importlib import resources
from typing import TYPE_CHECKING

from workbench.errors import OptionError
from workbench.files.toml_edit import written

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable

ENDING = ".toml"
_INVENTED = (
    "Starter: numbers are common practice or placeholders, to be checked against data sheets and "
    "replaced by your own."
)
_TOP = """\
# A trial: what is asked, which settings are tried, what the parts must meet.
# This is a START, not an answer: check every number against the maker's data sheets and replace it
# by your own. Data sheets, local codes and licensed practice always come first.
# Behind each number stands where it comes from: a source, "common practice, no source", or
# "placeholder", which nobody but you can know.
schema = 1

# TO FILL IN before any window is computed; neither has a usual value. Take the # away and write
# the share of new parts that must meet every requirement, and how sure of that you want to be,
# each as a number between 0 and 1.
# share =
# confidence =

# Starts every random choice, so that the same file gives the same plan.
seed = {seed}
date = {date}
people = []
# Remove this line when every number is your own: it is printed wherever the trial is shown.
invented = {invented}

"""


def operation_names() -> tuple[str, ...]:
    """Return the names of the operations that have a starter, sorted."""
    found = (one.name for one in _shelf().iterdir())
    return tuple(sorted(one.removesuffix(ENDING) for one in found if one.endswith(ENDING)))


def operation_text(name: str, *, seed: int, date: str = "") -> str:
    """Return the text of the trial.toml that starts a trial of an operation.

    Share and confidence are left to be filled in; without them it reads back without error.

    Raises
    ------
    OptionError
        If there is no starter for an operation of that name.
    """
    known = operation_names()
    if name not in known:
        raise OptionError(
            f"There is no starter for an operation {name!r}.",
            why="Each starter holds the settings, readings and cautions of one operation.",
            next_step=f"Use one of: {', '.join(known)}; or leave --operation out.",
            place="--operation",
        )
    text = (_shelf() / f"{name}{ENDING}").read_text("utf-8")
    top = _TOP.format(seed=seed, date=written(date), invented=written(_INVENTED))
    return top + text


def _shelf() -> Traversable:
    return resources.files("workbench") / "files" / "starters"
