"""The shape of a second-order fit: where it is level, how it bends, which way is up."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import Unavailable
from workbench.show.html_tables import Spanning, html_table, name, number, unit, verdict, words
from workbench.show.numbers import fixed, limit_decimals, percent, short, tried
from workbench.show.words import listed

if TYPE_CHECKING:
    from workbench.define.factors import Numeric
    from workbench.fit.second_order import Ascent, LevelPoint
    from workbench.show.escape import Html

STEEP = 0.35  # of a direction's length: below it a factor hardly takes part in an axis
SHAPES = {
    "top": "highest there",
    "bottom": "lowest there",
    "saddle": "neither highest nor lowest there: it rises one way and falls another",
}


def level_sentence(found: LevelPoint, outcome: str) -> str:
    """Return where the fitted surface is level, and what that point is."""
    where = "inside the ranges tried" if found.is_inside else "outside the ranges tried"
    names = {"top": "a top", "bottom": "a bottom", "saddle": "a saddle"}
    if found.is_inside:
        return f"Mean {outcome} has {names[found.shape]} {where}"
    return f"Mean {outcome} is level only {where}, so no best point was seen"


def level_point_table(found: LevelPoint) -> Html:
    """Return where the surface is level, and the settings that scatter allows to be level."""
    columns = [
        name("setting"),
        number("level at"),
        number("may be from (95\u00a0%)"),
        number("to"),
        unit(),
        words("tried"),
    ]
    rows = [_level(found, i) for i in range(len(found.factors))]
    return html_table(f"The level point: the fit is {SHAPES[found.shape]}", columns, rows)


def axes_table(found: LevelPoint) -> Html:
    """Return how the surface bends along each of its own axes, the weakest bend last."""
    order = np.argsort(-np.abs(found.axes.eigenvalues), kind="stable")
    rows = [
        (
            f"axis {place + 1}",
            short(float(found.axes.eigenvalues[i]), 3),
            "falls both ways" if found.axes.eigenvalues[i] < 0 else "rises both ways",
            _along(found.factors, found.axes.directions[:, i]),
        )
        for place, i in enumerate(order)
    ]
    return html_table(
        "How it bends: change from the level point, half a range along the axis",
        [name("axis"), number("change"), words("so the fit"), words("moving together")],
        rows,
    )


def ascent_table(found: Ascent) -> Html:
    """Return the path along which the fitted outcome changes fastest, step by step."""
    columns = [
        name("step"),
        *(number(f"{one.name}{', ' if one.unit else ''}{one.unit}") for one in found.factors),
        words("tried"),
    ]
    rows = [
        (
            "middle" if step == 0 else str(step),
            *(_at(one, float(value)) for one, value in zip(found.factors, row, strict=True)),
            verdict("meets", "inside") if inside else verdict("unsure", "beyond"),
        )
        for step, (row, inside) in enumerate(zip(found.path, found.inside, strict=True))
    ]
    way = "rises" if found.rises else "falls"
    return html_table(f"The way along which the fit {way} fastest", columns, rows)


def cone_words(found: Ascent) -> str:
    """Return how sure the direction is."""
    cone = found.cone
    if isinstance(cone, Unavailable):
        return f"How sure the direction is: {cone.reason}."
    if cone.half_angle is None:
        return "Scatter allows every direction: this one is a guess. Add runs first."
    share = percent(float(f"{cone.excluded:.3g}"))
    return (
        f"Scatter (95\u00a0%) rules out {share} of all directions. Beyond the ranges tried the "
        "fit promises nothing: confirm each step by a run."
    )


def _level(found: LevelPoint, i: int) -> tuple[object, ...]:
    factor = found.factors[i]
    at = _at(factor, float(found.at[i]))
    low, high = found.possible_low, found.possible_high
    if isinstance(low, Unavailable) or isinstance(high, Unavailable):
        reason = low.reason if isinstance(low, Unavailable) else ""
        return (factor.name, at, Spanning(words=reason, columns=2), factor.unit, tried(factor))
    span = (_at(factor, float(low[i])), _at(factor, float(high[i])))
    return (factor.name, at, *span, factor.unit, tried(factor))


def _at(factor: Numeric, value: float) -> str:
    return fixed(value, limit_decimals(factor, (value,)))


def _along(factors: tuple[Numeric, ...], direction: np.ndarray) -> str:
    """Return which factors move along an axis, in words: the same way, or against one another."""
    taking = [
        (one.name, float(size))
        for one, size in zip(factors, direction, strict=True)
        if abs(size) >= STEEP
    ]
    up = [name for name, size in taking if size * taking[0][1] > 0]
    down = [name for name, size in taking if size * taking[0][1] < 0]
    if not down:
        return f"{listed(up)} up" if len(up) == 1 else f"{listed(up)} up together"
    return f"{listed(up)} up while {listed(down)} down"
