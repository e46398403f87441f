"""Outcomes and their requirements as sections of trial.toml."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypedDict

from workbench.define.outcomes import (
    SCALES,
    Counted,
    Graded,
    Measured,
    PassFail,
    Requirement,
    target,
)

if TYPE_CHECKING:
    from workbench.define.outcomes import Outcome
    from workbench.files.toml_fields import Table

REQUIREMENT_KEYS = ("at_least", "at_most", "between", "target", "tolerance")
_EVERY = ("name", "kind", "method", "destructive", "wait")
OUTCOME_KEYS = {
    "measured": (
        *_EVERY,
        *REQUIREMENT_KEYS,
        "unit",
        "scale",
        "worth_finding",
        "expected_sd",
        "gauge_low",
        "gauge_high",
        "resolution",
        "too_low",
        "too_high",
    ),
    "pass/fail": (*_EVERY, "passes", "fails"),
    "graded": (*_EVERY, *REQUIREMENT_KEYS[:4], "grades"),
    "counted": (*_EVERY, *REQUIREMENT_KEYS, "unit", "out_of"),
}


class _Common(TypedDict):
    """What every kind of outcome has."""

    name: str
    method: str
    destructive: bool
    wait: str


def read_outcome(table: Table) -> Outcome:
    """Return the outcome of an [[outcome]] section."""
    table.need("name", why="An outcome is found by its name.", example='"peel_force"')
    table.need("kind", why="Each kind is read and judged in its own way.", example='"measured"')
    kind = table.choice("kind", tuple(OUTCOME_KEYS))
    every = tuple(dict.fromkeys(key for keys in OUTCOME_KEYS.values() for key in keys))
    table.only(OUTCOME_KEYS[kind], elsewhere=every)
    common = _Common(
        name=table.text("name"),
        method=table.text("method"),
        destructive=table.flag("destructive"),
        wait=table.text("wait"),
    )
    if kind == "measured":
        return _measured(table, common)
    if kind == "graded":
        return _graded(table, common)
    if kind == "counted":
        return _counted(table, common)
    words = {key: table.text(key) for key in ("passes", "fails") if key in table.values}
    with table.placed():
        return PassFail(**common, **words)


def _measured(table: Table, common: _Common) -> Measured:
    unit = table.unit()
    requirement = _requirement(table)
    scale = table.choice("scale", SCALES) or "as read"
    with table.placed():
        return Measured(
            unit=unit,
            requirement=requirement,
            scale=scale,
            worth_finding=table.number("worth_finding"),
            expected_sd=table.number("expected_sd"),
            gauge_low=table.number("gauge_low"),
            gauge_high=table.number("gauge_high"),
            resolution=table.number("resolution"),
            too_low=table.text("too_low"),
            too_high=table.text("too_high"),
            **common,
        )


def _graded(table: Table, common: _Common) -> Graded:
    table.need("grades", why="The grades stand in their order.", example='["none", "slight"]')
    grades = table.texts("grades")
    with table.placed("grades"):
        Graded(grades=grades, **common)
    requirement = _grade_requirement(table, grades)
    with table.placed():
        return Graded(grades=grades, requirement=requirement, **common)


def _counted(table: Table, common: _Common) -> Counted:
    requirement = _requirement(table)
    with table.placed():
        return Counted(
            unit=table.text("unit"),
            out_of=table.whole("out_of"),
            requirement=requirement,
            **common,
        )


def _requirement(table: Table) -> Requirement | None:
    present = _present(table)
    if not present:
        return None
    low, high = table.number("at_least"), table.number("at_most")
    aim, tolerance = table.number("target"), table.number("tolerance")
    if "between" in table.values:
        low, high = _two(table, table.numbers("between"))
    with table.placed(present[0]):
        if aim is not None and tolerance is not None:
            return target(aim, tolerance=tolerance)
        return Requirement(low=low, high=high, target=aim)


def _grade_requirement(table: Table, grades: tuple[str, ...]) -> Requirement | None:
    present = _present(table)
    if not present:
        return None
    single = {
        key: _grade(table, key, grades)
        for key in ("at_least", "at_most", "target")
        if key in table.values
    }
    low, high = single.get("at_least"), single.get("at_most")
    if "between" in table.values:
        ends = table.texts("between")
        low, high = _two(
            table, tuple(_index(table, "between", one, grades=grades) for one in ends)
        )
    with table.placed(present[0]):
        return Requirement(low=low, high=high, target=single.get("target"))


def _present(table: Table) -> list[str]:
    """Return the keys of a requirement that are there, once they can only mean one thing."""
    present = [key for key in REQUIREMENT_KEYS if key in table.values]
    ways = ({"at_least", "at_most"}, {"between"}, {"tolerance"})
    if sum(not way.isdisjoint(present) for way in ways) > 1:
        raise table.error(
            present[-1],
            f"Two requirements stand at once: {', '.join(present)}.",
            why="A part must know which one it is judged by.",
            next_step="Keep one: at_least, at_most, between = [low, high], or target with "
            "tolerance.",
        )
    if "tolerance" in present and "target" not in present:
        raise table.error(
            "tolerance",
            "A tolerance stands without its target.",
            why="It is the distance from the target at which a part still passes.",
            next_step="Write target = … as well.",
        )
    if present == ["target"]:
        raise table.error(
            "target",
            "A target stands without a tolerance.",
            why="No reading hits a target exactly, so every part would fail.",
            next_step="Write tolerance = … as well, or limits: between = [low, high].",
        )
    return present


def _two(table: Table, ends: tuple[float, ...]) -> tuple[float, float]:
    if len(ends) != 2:
        raise table.error(
            "between",
            f"between has {len(ends)} entries.",
            why="A requirement has a low and a high end.",
            next_step="Write between = [low, high].",
        )
    return ends[0], ends[1]


def _grade(table: Table, key: str, grades: tuple[str, ...]) -> float:
    return _index(table, key, table.text(key), grades=grades)


def _index(table: Table, key: str, grade: str, *, grades: tuple[str, ...]) -> float:
    if grade not in grades:
        raise table.error(
            key,
            f"{grade!r} is no grade of this outcome.",
            why="Limits on grades are named by a grade.",
            next_step=f"Use one of: {', '.join(grades)}.",
        )
    return float(grades.index(grade))
