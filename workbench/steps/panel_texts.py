"""One field of the planning form: the text that stands in it, and the value that it means."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from workbench.errors import WorkbenchError
from workbench.files.numbers import Decimal, read_number

if TYPE_CHECKING:
    from collections.abc import Mapping

    from workbench.steps.panel_fields import PanelField

_LISTS = ("lines", "words", "numbers")
_TO = re.compile(r"\s+to\s+")


def text_in(field: PanelField, value: Any) -> str:
    """Return what stands in a field for a value of trial.toml."""
    if isinstance(value, bool):
        return "yes" if value else ""
    if isinstance(value, dict):
        return _named_text(value)
    if isinstance(value, list):
        return _list_text(field, [_plain(one) for one in value])
    return _plain(value)


def _named_text(values: Mapping[str, Any]) -> str:
    said = (
        (name, " to ".join(map(_plain, one)) if isinstance(one, list) else _plain(one))
        for name, one in values.items()
    )
    return "; ".join(f"{name}: {words}" for name, words in said)


def _list_text(field: PanelField, shown: list[str]) -> str:
    if field.kind == "lines":
        return "\n".join(shown)
    is_parted = field.kind == "numbers" or any("," in one for one in shown)
    return ("; " if is_parted else ", ").join(shown)


def _plain(value: Any) -> str:
    return value if isinstance(value, str) else f"{value:.12g}"


def value_of(field: PanelField, text: str, *, of: str) -> Any:
    """Return what a text means to its field; what it does not mean stays text and is refused.

    `of` is the kind of the section: a limit of a graded outcome is a word.
    """
    if field.kind == "number" or (field.kind == "limit" and of != "graded"):
        return _number(text)
    if field.kind == "flag":
        return text == "yes"
    if field.kind in ("places", "weights"):
        return dict(_named(one, field.kind) for one in _split(text, ";"))
    if field.kind in _LISTS:
        return _list_of(field, text)
    return " ".join(text.split()) if field.kind == "long" else text


def _list_of(field: PanelField, text: str) -> list[Any]:
    if field.kind == "lines":
        return [line.strip() for line in text.splitlines() if line.strip()]
    if field.kind == "words":
        return _split(text, ";" if ";" in text else ",")
    return [_number(one) for one in _split(text, ";" if ";" in text else None)]


def _split(text: str, mark: str | None) -> list[str]:
    return [one.strip() for one in text.split(mark) if one.strip()]


def _named(text: str, kind: str) -> tuple[str, Any]:
    name, _, said = text.rpartition(":")
    ends = [_number(one) for one in _TO.split(said.strip())]
    if kind == "weights":
        return name.strip(), ends[0]
    if isinstance(ends[0], str):
        return name.strip(), said.strip()
    return name.strip(), ends if len(ends) > 1 else [ends[0], ends[0]]


def _number(text: str) -> float | int | str:
    try:
        found = read_number(text, decimal=Decimal.EITHER, place="")
    except WorkbenchError:
        return text
    if found is None or found.mark or found.unit:
        return text
    return int(found.value) if found.value.is_integer() else found.value
