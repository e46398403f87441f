"""The tables of confirmation.toml read back, key by key."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.decide.confirmation import (
    ConfirmationPlan,
    Foreseen,
    JudgedBy,
    Place,
    RestsOn,
)
from workbench.errors import Unavailable

if TYPE_CHECKING:
    from workbench.define.settings import Value
    from workbench.files.toml_fields import Table


def plan_from(top: Table) -> ConfirmationPlan:
    """Return the confirmation that a file holds.

    Raises
    ------
    DefinitionError
        If a key is missing or is not what it should be.
    """
    return ConfirmationPlan(
        places=tuple(_place(one) for one in top.tables("place")),
        share=_number(top, "share"),
        confidence=_number(top, "confidence"),
        interval_confidence=_number(top, "interval_confidence"),
        judged_by=JudgedBy(top.choice("judged_by", tuple(JudgedBy)) or JudgedBy.COUNTING),
        sittings=top.texts("sittings"),
        number=top.texts("number"),
        fewer=top.texts("fewer"),
        seed=top.whole("seed") or 0,
        model_form=_number(top, "model_form"),
        rests_on=tuple(
            RestsOn(what=one.text("what"), digest=one.text("digest"))
            for one in top.tables("rests_on")
        ),
        locked_at=top.text("locked_at"),
        locked_by=top.text("locked_by"),
        notes=top.texts("notes"),
    )


def _place(table: Table) -> Place:
    values = [_value(table, one) for one in table.items("set_to")]
    names = table.texts("factors")
    if len(names) != len(values):
        raise table.error(
            "set_to",
            f"{len(values)} settings for {len(names)} factors.",
            why="Each factor has one setting at a place.",
            next_step="Put the file back as it was locked.",
        )
    return Place(
        name=table.text("name"),
        settings=tuple(zip(names, values, strict=True)),
        why=table.text("why"),
        parts=table.whole("parts") or 0,
        failures_allowed=table.whole("failures_allowed"),
        chance=_number(table, "chance"),
        assured_share=_number(table, "assured_share"),
        failures_low=table.whole("failures_low") or 0,
        failures_high=table.whole("failures_high") or 0,
        chance_to_confirm=_number(table, "chance_to_confirm"),
        outcomes=tuple(_outcome(one) for one in table.tables("outcome")),
    )


def _value(table: Table, written: object) -> Value:
    return written if isinstance(written, str) else table.checked_number("set_to", written)


def _outcome(table: Table) -> Foreseen:
    return Foreseen(
        outcome=table.text("name"),
        unit=table.text("unit"),
        requirement=table.text("requirement"),
        mean=_number(table, "mean"),
        mean_low=_number(table, "mean_low"),
        mean_high=_number(table, "mean_high"),
        new_part_low=_end(table, "new_part", "low"),
        new_part_high=_end(table, "new_part", "high"),
        parts_mean_low=_end(table, "parts_mean", "low"),
        parts_mean_high=_end(table, "parts_mean", "high"),
        chance=_number(table, "chance"),
        may_fall_below=table.number("may_fall_below"),
        may_fall_above=table.number("may_fall_above"),
    )


def _end(table: Table, pair: str, end: str) -> float | Unavailable:
    value = table.number(f"{pair}_{end}")
    return Unavailable(reason=table.text(f"no_{pair}")) if value is None else value


def _number(table: Table, key: str) -> float:
    table.need(key, why="What was foreseen cannot be read without it.", example="… as locked")
    return table.checked_number(key, table.values[key])
