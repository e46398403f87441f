"""One table of a TOML file, read key by key: right kind of value, or an error that says where."""

from __future__ import annotations

import math
import re
from contextlib import contextmanager
from dataclasses import dataclass
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any

from workbench.errors import DefinitionError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from workbench.files.toml_lines import KeyPath
    from workbench.files.toml_text import TomlText

NOT_STATED = "not stated"  # where a key must stand but nobody knows its value yet

_QUOTED = re.compile(r"""'(?:[^'\\]|\\.)*'|"(?:[^"\\]|\\.)*\"""")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Table:
    """A table of a TOML text; `called` is what messages call it, such as "factor 'dwell'"."""

    source: TomlText
    values: dict[str, Any]
    path: KeyPath = ()
    called: str = ""

    def place(self, key: str = "") -> str:
        """Return file, line, table and key for a message."""
        path = (*self.path, key) if key else self.path
        words = [self.source.place(path), self.called, f"key {key}" if key else ""]
        return ", ".join(word for word in words if word)

    def error(self, key: str, wrong: str, *, why: str, next_step: str) -> DefinitionError:
        """Return an error placed at a key."""
        return DefinitionError(wrong, why=why, next_step=next_step, place=self.place(key))

    def only(self, known: tuple[str, ...], *, elsewhere: tuple[str, ...] = ()) -> None:
        """Refuse keys that are not known; `elsewhere` are those that other kinds have."""
        for key in self.values:
            if key in known:
                continue
            near = get_close_matches(key, known, n=1)
            hint = f"Did you mean {near[0]}? " if near else ""
            raise self.error(
                key,
                f"The key {key!r} is not known here.",
                why="Another kind has it; here it would change nothing."
                if key in elsewhere
                else "A key that is passed over would change nothing and look as if it did.",
                next_step=f"{hint}Known keys: {', '.join(known)}.",
            )

    def need(self, key: str, *, why: str, example: str) -> None:
        """Refuse a table that lacks a key."""
        if key not in self.values:
            raise self.error(
                key,
                f"The key {key} is missing.",
                why=why,
                next_step=f"Write {key} = {example}.",
            )

    def text(self, key: str) -> str:
        """Return a text, empty if the key is not there."""
        value = self.values.get(key, "")
        if isinstance(value, str):
            return value
        shown = f'"{value}"' if isinstance(value, int | float) else '"…"'
        raise self.error(
            key,
            f"{_shown(value)} is not a text.",
            why=f"{key} is read as words.",
            next_step=f"Put it in quotes: {key} = {shown}.",
        )

    def unit(self) -> str:
        """Return the unit that the table must state, empty if it says "not stated"."""
        why = "A number without a unit is set or judged wrongly sooner or later."
        self.need("unit", why=why, example=f'"mm"; "1" for a pure number, or "{NOT_STATED}"')
        unit = self.text("unit")
        if not unit.strip():
            raise self.error(
                "unit",
                "The unit is empty.",
                why=why,
                next_step='Write unit = "mm" or the like; unit = "1" for a pure number.',
            )
        return "" if unit == NOT_STATED else unit

    def number(self, key: str) -> float | None:
        """Return a finite number, None if the key is not there."""
        if key not in self.values:
            return None
        return self.checked_number(key, self.values[key])

    def checked_number(self, key: str, value: object) -> float:
        """Return a value of a key as a finite number."""
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self.error(
                key,
                f"{_shown(value)} is not a number.",
                why=f"{key} is computed with.",
                next_step=_as_number(value),
            )
        if isinstance(value, int) and abs(value) >= 2**63:
            raise self.error(
                key,
                "The whole number has more than 19 digits.",
                why="It cannot be computed with.",
                next_step="Use a unit in which the numbers are of usual size.",
            )
        if not math.isfinite(value):
            raise self.error(
                key,
                f"{value} is not a finite number.",
                why="Nothing can be set to it or held against it.",
                next_step="Write the number itself, or leave the key out if it may be left out.",
            )
        return float(value)

    def whole(self, key: str) -> int | None:
        """Return a whole number, None if the key is not there."""
        number = self.number(key)
        if number is None:
            return None
        if not number.is_integer():
            raise self.error(
                key,
                f"{number:g} is not a whole number.",
                why=f"{key} counts something.",
                next_step="Write a whole number.",
            )
        value = self.values[key]
        return value if isinstance(value, int) else int(number)

    def flag(self, key: str) -> bool:
        """Return true or false, false if the key is not there."""
        value = self.values.get(key, False)
        if isinstance(value, bool):
            return value
        raise self.error(
            key,
            f"{_shown(value)} is neither true nor false.",
            why=f"{key} is a yes or no.",
            next_step=f"Write {key} = true or {key} = false, without quotes.",
        )

    def choice(self, key: str, options: tuple[str, ...]) -> str:
        """Return one of the options, empty if the key is not there."""
        chosen = self.text(key)
        if key not in self.values or chosen in options:
            return chosen
        near = get_close_matches(chosen, options, n=1)
        hint = f"Did you mean {near[0]!r}? " if near else ""
        raise self.error(
            key,
            f"{chosen!r} is no {key} known here.",
            why="Each is handled in its own way.",
            next_step=f"{hint}Use one of: {', '.join(options)}.",
        )

    def items(self, key: str) -> list[object]:
        """Return a list of whatever, empty if the key is not there."""
        value = self.values.get(key, [])
        if isinstance(value, list):
            return value
        raise self.error(
            key,
            f"{_shown(value)} is not a list.",
            why=f"{key} may have several entries.",
            next_step=f"Put the entries in brackets, separated by commas: {key} = […, …].",
        )

    def texts(self, key: str) -> tuple[str, ...]:
        """Return a list of texts, empty if the key is not there."""
        return tuple(self._checked_text(key, one) for one in self.items(key))

    def numbers(self, key: str) -> tuple[float, ...]:
        """Return a list of finite numbers, empty if the key is not there."""
        return tuple(self.checked_number(key, one) for one in self.items(key))

    def table(self, key: str) -> Table:
        """Return an inner table, an empty one if the key is not there."""
        value = self.values.get(key, {})
        if not isinstance(value, dict):
            raise self.error(
                key,
                f"{_shown(value)} is not a table.",
                why=f"{key} has keys of its own.",
                next_step=f"Write {key} = {{ … = …, … = … }}, or a section of that name.",
            )
        return Table(
            source=self.source,
            values=value,
            path=(*self.path, key),
            called=f"{self.called}, {key}".removeprefix(", "),
        )

    def tables(self, key: str) -> tuple[Table, ...]:
        """Return the tables under double brackets, none if the key is not there."""
        value = self.values.get(key, [])
        if not isinstance(value, list) or not all(isinstance(one, dict) for one in value):
            raise self.error(
                key,
                f"{key} is not a list of sections.",
                why="There may be several of them.",
                next_step=f"Write the heading of each in double brackets: [[{key}]].",
            )
        return tuple(
            Table(
                source=self.source, values=one, path=(*self.path, key, i), called=_called(key, one)
            )
            for i, one in enumerate(value)
        )

    @contextmanager
    def placed(self, key: str = "") -> Iterator[None]:
        """Put this table, and a key of it, in front of errors that do not know where they are."""
        try:
            yield
        except DefinitionError as problem:
            if problem.place.startswith(self.source.name):
                raise
            raise problem.at(self.place(key or self._meant(problem))) from None

    def _meant(self, problem: DefinitionError) -> str:
        said = re.findall(r"\w+", _QUOTED.sub("", problem.wrong))
        return next((word for word in said if word in self.values), "")

    def _checked_text(self, key: str, value: object) -> str:
        if isinstance(value, str):
            return value
        raise self.error(
            key,
            f"{_shown(value)} in the list is not a text.",
            why=f"The entries of {key} are words.",
            next_step=f'Put it in quotes: "{value}".',
        )


def _called(key: str, values: dict[str, Any]) -> str:
    name = values.get("name")
    return f"{key} {name!r}" if isinstance(name, str) else key


def _shown(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict):
        return "A table"
    return "A list" if isinstance(value, list) else repr(value)


def _as_number(value: object) -> str:
    if not isinstance(value, str):
        return "Write a number, such as 60.5."
    number = re.match(r"\s*([+\-−]?\d+(?:[.,]\d+)?)\s*(.*)", value)
    if number is None:
        return "Write a number without quotes, such as 60.5."
    plain = number[1].replace(",", ".").replace("−", "-")
    unit = " The unit has a key of its own." if number[2] else ""
    return f"Write {plain}, without quotes.{unit}"
