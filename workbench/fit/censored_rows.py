"""Censored readings on the scale of their model: exact, above a value, below a value."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import FitError
from workbench.fit.run_means import in_words
from workbench.fit.scales import on_scale, turns_round
from workbench.numerics.censored import Rows
from workbench.numerics.location_scale import NORMAL, SMALLEST

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.outcomes import Measured
    from workbench.fit.part_rows import PartRows

DISTRIBUTIONS = ("normal", "Weibull")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OnScale:
    """Readings (n,) on the scale of the model, and the family of their scatter there."""

    rows: Rows
    family: str


def on_model_scale(data: PartRows, outcome: Measured, distribution: str) -> OnScale:
    """Return the readings on the outcome's scale.

    Raises
    ------
    FitError
        If a value does not exist on the scale, or the distribution is unknown or is Weibull's on
        another scale than "log".
    """
    _check_distribution(outcome, distribution)
    _check_positive(data, outcome)
    value = on_scale(data.value, outcome.scale)
    mark = -data.mark if turns_round(outcome.scale) else data.mark
    return OnScale(
        rows=Rows(low=np.where(mark < 0, -np.inf, value), high=np.where(mark > 0, np.inf, value)),
        family=SMALLEST if distribution == "Weibull" else NORMAL,
    )


def cut_off_words(data: PartRows, unit: str) -> str:
    """Return how many readings are cut off and where, in words."""
    said = []
    for mark, word in ((1, "above"), (-1, "below")):
        chosen = data.mark == mark
        if chosen.any():
            at = data.value[chosen]
            low, high = f"{at.min():g}", f"{at.max():g}"
            where = low if low == high else f"{low} to {high}"
            said.append(
                f"{int(chosen.sum())} of {data.value.size} readings are only known to lie {word} "
                f"{where}{f' {unit}' if unit else ''} ({in_words(np.unique(data.run[chosen]))})"
            )
    return "; ".join(said)


def _check_distribution(outcome: Measured, distribution: str) -> None:
    if distribution not in DISTRIBUTIONS:
        raise FitError(
            f"The distribution of {outcome.name!r} is given as {distribution!r}.",
            why="The share of weak parts follows from it.",
            next_step=f"Use one of: {', '.join(DISTRIBUTIONS)}.",
        )
    if distribution == "Weibull" and outcome.scale != "log":
        raise FitError(
            f"{outcome.name!r} is asked for as Weibull on the {outcome.scale} scale.",
            why="A Weibull outcome has even scatter on the log scale only.",
            next_step='Fit with scale = "log", or take the normal distribution.',
        )


def _check_positive(data: PartRows, outcome: Measured) -> None:
    low = data.value <= 0
    if outcome.scale == "as read" or not low.any():
        return
    first = int(np.flatnonzero(low)[0])
    raise FitError(
        f"{outcome.name!r} reads {data.value[first]:g} in run {data.run[first]}.",
        why=f"The {outcome.scale} scale exists for values above zero only.",
        next_step='Check the reading, or fit with scale = "as read".',
        place=f"run {data.run[first]}",
    )


def crude(rows: Rows) -> NDArray[np.float64]:
    """Return the readings with their cut-off values as if read, to find a structure by."""
    return rows.middle()
