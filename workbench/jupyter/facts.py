"""A noun that has no table of its own as one: what it holds, field by field, in words."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from typing import Any

import numpy as np

from workbench.errors import Unavailable
from workbench.show.html_tables import html_table, name, words
from workbench.show.numbers import short

MOST_SHOWN = 12  # values of an array or a list; more of them are counted
DEEPEST = 2  # nouns within nouns that are written out in one cell
_CAPITAL = re.compile(r"(?<=[a-z])(?=[A-Z])")


def heading(noun: object) -> str:
    """Return what a kind of noun is called, such as "nearest miss"."""
    return _CAPITAL.sub(" ", type(noun).__name__).lower()


def line(noun: object) -> str:
    """Return a noun in one short line: what it is and what it is called, if it has a name."""
    called = getattr(noun, "name", None) or getattr(noun, "title", None)
    return f"{heading(noun)}: {called}" if isinstance(called, str) else heading(noun)


def facts(noun: object) -> tuple[str, ...]:
    """Return a table of what a noun holds, and one for each list of nouns inside it."""
    said = _fields(noun)
    inside = {key: value for key, value in said.items() if _is_list_of_nouns(value)}
    rows = [
        (_plain(key), f"{len(value)}, see below" if key in inside else in_words(value))
        for key, value in said.items()
    ]
    caption = heading(noun).capitalize()
    tables = [_list_table(f"{caption}: {_plain(key)}", value) for key, value in inside.items()]
    return (html_table(caption, [name("what"), words("is")], rows), *tables)


def _fields(noun: object) -> dict[str, Any]:
    if not is_dataclass(noun):
        return {}
    return {
        one.name: getattr(noun, one.name) for one in fields(noun) if not one.name.startswith("_")
    }


def _is_list_of_nouns(value: object) -> bool:
    return isinstance(value, tuple) and len(value) > 1 and all(map(is_dataclass, value))


def _list_table(caption: str, nouns: tuple[Any, ...]) -> str:
    columns = list(dict.fromkeys(key for one in nouns for key in _fields(one)))
    rows = [[in_words(_fields(one).get(key)) for key in columns] for one in nouns]
    return html_table(caption, [words(_plain(key)) for key in columns], rows)


def _plain(key: str) -> str:
    return key.replace("_", " ")


def in_words(value: object, depth: int = 0) -> str:
    """Return a value as a cell says it; nothing is shown as a blank."""
    if isinstance(value, Unavailable):
        return f"cannot be told: {value.reason}"
    if value is None:
        return "not stated"
    if isinstance(value, bool | np.bool_):
        return "yes" if value else "no"
    return _other(value, depth)


def _other(value: object, depth: int) -> str:
    if isinstance(value, Enum | str):
        return str(value) or "none"
    if isinstance(value, int | float | np.number):
        return short(float(value))
    if isinstance(value, np.ndarray):
        return _array(value)
    return _whole(value, depth)


def _array(value: np.ndarray[Any, Any]) -> str:
    if value.size <= MOST_SHOWN:
        return ", ".join(map(in_words, list(value.ravel()))) or "none"
    shape = " × ".join(map(str, value.shape))
    if not np.issubdtype(value.dtype, np.number):
        return f"{shape} values"
    return f"{shape} values, {short(float(np.min(value)))} to {short(float(np.max(value)))}"


def _whole(value: object, depth: int) -> str:
    if isinstance(value, Mapping):
        parts = [f"{key}: {in_words(one, depth + 1)}" for key, one in value.items()]
    elif isinstance(value, tuple | list):
        parts = [in_words(one, depth + 1) for one in value]
    elif is_dataclass(value) and depth < DEEPEST and not hasattr(value, "name"):
        parts = [f"{_plain(k)} {in_words(v, depth + 1)}" for k, v in _fields(value).items()]
    elif is_dataclass(value):
        return line(value)
    else:
        return str(value)
    more = len(parts) - MOST_SHOWN
    shown = parts[:MOST_SHOWN] + ([f"and {more} more"] if more > 0 else [])
    return ", ".join(shown) or "none"
