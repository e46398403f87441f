"""Factors, held settings and constraints as sections of trial.toml."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypedDict

from workbench.define.cautions import cautions_for
from workbench.define.constraints import Forbidden, LinearLimit
from workbench.define.factors import (
    Categorical,
    Component,
    Continuous,
    Held,
    Role,
    Spread,
    Stepped,
)
from workbench.files.toml_fields import NOT_STATED

if TYPE_CHECKING:
    from workbench.define.constraints import Constraint
    from workbench.define.factors import Factor
    from workbench.files.toml_fields import Table

_EVERY = ("name", "kind", "role", "slow", "reset_cost", "hazards")
_NUMERIC = (*_EVERY, "unit", "setting_sd", "varies")
FACTOR_KEYS = {
    "continuous": (*_NUMERIC, "low", "high"),
    "stepped": (*_NUMERIC, "steps"),
    "categorical": (*_EVERY, "levels"),
    "component": ("name", "kind", "hazards", "unit", "low", "high", "setting_sd"),
}
HELD_KEYS = ("name", "value", "unit", "hazards")
CONSTRAINT_KEYS = ("coefficients", "at_most", "forbidden", "reason")


class _Common(TypedDict):
    """What every kind of factor has."""

    name: str
    role: Role
    slow: bool
    reset_cost: str
    hazards: tuple[str, ...]


def read_factor(table: Table) -> Factor:
    """Return the factor of a [[factor]] section."""
    table.need("name", why="A factor is found by its name.", example='"dwell"')
    table.need("kind", why="Each kind has its own keys.", example='"continuous"')
    kind = table.choice("kind", tuple(FACTOR_KEYS))
    every = tuple(dict.fromkeys(key for keys in FACTOR_KEYS.values() for key in keys))
    table.only(FACTOR_KEYS[kind], elsewhere=every)
    role = Role(table.choice("role", tuple(Role)) or Role.CONTROL)
    common = _Common(
        name=table.text("name"),
        role=role,
        slow=table.flag("slow"),
        reset_cost=table.text("reset_cost"),
        hazards=read_hazards(table),
    )
    if kind == "categorical":
        table.need("levels", why="A category is its levels.", example='["none", "wiped"]')
        levels = table.texts("levels")
        with table.placed("levels"):
            return Categorical(levels=levels, **common)
    return _component(table) if kind == "component" else _numeric(table, kind, common)


def _component(table: Table) -> Component:
    low, high = (_end(table, key) for key in ("low", "high"))
    stated = "setting_sd" in table.values and table.values["setting_sd"] != NOT_STATED
    with table.placed():
        return Component(
            name=table.text("name"),
            low=low,
            high=high,
            unit=table.unit(),
            setting_sd=table.number("setting_sd") if stated else None,
            hazards=read_hazards(table),
        )


def _numeric(table: Table, kind: str, common: _Common) -> Factor:
    unit = table.unit()
    setting_sd = _setting_sd(table, common["role"])
    spread = _spread(table)
    if kind == "stepped":
        table.need("steps", why="A stepped factor is its steps.", example="[10, 20, 40]")
        steps = table.numbers("steps")
        with table.placed():
            return Stepped(steps=steps, unit=unit, setting_sd=setting_sd, spread=spread, **common)
    low, high = (_end(table, key) for key in ("low", "high"))
    with table.placed():
        return Continuous(
            low=low, high=high, unit=unit, setting_sd=setting_sd, spread=spread, **common
        )


def read_held(table: Table) -> Held:
    """Return the held setting of a [[held]] section."""
    table.only(HELD_KEYS)
    table.need("name", why="A held setting is found by its name.", example='"nozzle bore"')
    table.need("value", why="The sheet prints what to set.", example="0.8")
    value = table.values["value"]
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    text = f"{table.number('value'):g}" if is_number else table.text("value")
    with table.placed():
        return Held(
            name=table.text("name"),
            value=text,
            unit=table.text("unit"),
            hazards=read_hazards(table),
        )


def read_constraint(table: Table) -> Constraint:
    """Return the constraint of a [[constraint]] section."""
    table.only(CONSTRAINT_KEYS)
    table.need(
        "reason",
        why="Whoever wants to run there must be able to judge whether it still holds.",
        example='"the bead runs off the rib"',
    )
    if ("coefficients" in table.values) == ("forbidden" in table.values):
        raise table.error(
            "",
            "A constraint needs either coefficients or forbidden, and not both.",
            why="It is an inequality or a combination that must not be run.",
            next_step="Write coefficients = {…} with at_most, or forbidden = {…}; two constraints "
            "are two sections.",
        )
    if "forbidden" in table.values:
        return _forbidden(table)
    table.need("at_most", why="The weighted sum is held against it.", example="100")
    coefficients = table.table("coefficients")
    pairs = tuple(
        (name, coefficients.checked_number(name, weight))
        for name, weight in coefficients.values.items()
    )
    with table.placed():
        return LinearLimit(
            coefficients=pairs, at_most=table.number("at_most") or 0.0, reason=table.text("reason")
        )


def read_hazards(table: Table) -> tuple[str, ...]:
    """Return the hazards of a section, each of which has a caution text."""
    hazards = table.texts("hazards")
    with table.placed("hazards"):
        cautions_for(hazards)
    return hazards


def _forbidden(table: Table) -> Forbidden:
    if "at_most" in table.values:
        raise table.error(
            "at_most",
            "at_most belongs to coefficients, not to forbidden.",
            why="A forbidden combination is a range or a level for each factor.",
            next_step="Remove at_most, or write coefficients instead of forbidden.",
        )
    inner = table.table("forbidden")
    levels = tuple((name, inner.text(name)) for name in inner.values if _is_level(inner, name))
    where = tuple(_range(inner, name) for name in inner.values if not _is_level(inner, name))
    with table.placed("forbidden"):
        return Forbidden(where=where, levels=levels, reason=table.text("reason"))


def _is_level(inner: Table, name: str) -> bool:
    return isinstance(inner.values[name], str)


def _range(inner: Table, name: str) -> tuple[str, float, float]:
    # Three values that are one entry of a constraint, in the noun's own order.
    ends = inner.numbers(name)
    if len(ends) != 2:
        raise inner.error(
            name,
            f"{name!r} has {len(ends)} ends of a range.",
            why="A forbidden range has a low and a high end.",
            next_step=f"Write {name} = [low, high].",
        )
    return name, ends[0], ends[1]


def _end(table: Table, key: str) -> float:
    table.need(key, why="A continuous factor is tried over a range.", example="60")
    return table.checked_number(key, table.values[key])


def _setting_sd(table: Table, role: Role) -> float | None:
    if role is Role.OBSERVED and "setting_sd" not in table.values:
        return None  # nobody sets what is only read
    table.need(
        "setting_sd",
        why="How well the line holds a set value decides how wide the limits can be; there is no "
        "usual value to assume.",
        example=f'1.5, or 0 if it is held exactly, or "{NOT_STATED}" (then no window is computed)',
    )
    if table.values["setting_sd"] == NOT_STATED:
        return None
    return table.number("setting_sd")


def _spread(table: Table) -> Spread | None:
    if "varies" not in table.values:
        return None
    inner = table.table("varies")
    inner.only(("shape", "centre", "width"))
    for key, example in (("shape", '"normal"'), ("centre", "45"), ("width", "8")):
        inner.need(key, why="A distribution needs all three of its keys.", example=example)
    shape = inner.choice("shape", ("normal", "uniform"))
    centre, width = (inner.checked_number(key, inner.values[key]) for key in ("centre", "width"))
    with table.placed("varies"):
        return Spread(shape=shape, centre=centre, width=width)
