"""The columns file of `adopt`: the same words as the options, for names with any letters."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from workbench.errors import FileError, OptionError
from workbench.steps.adopt_options import factor_wish, outcome_wish

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from workbench.steps.adopt_options import AdoptOptions

KEYS = ("outcome", "factor", "run", "block", "setup", "part", "reading", "ignore")
BYTES_AT_MOST = 1_000_000


def with_columns_file(options: AdoptOptions) -> AdoptOptions:
    """Return the options with what the columns file says added; the options come first.

    The file holds `[outcome."NAME"]` and `[factor."NAME"]` sections with the keys of the options,
    and `run`, `block`, `setup`, `part`, `reading`, `ignore` as names or lists of names.

    Raises
    ------
    FileError, OptionError
        If the file cannot be read, or a key or value is not understood.
    """
    if options.columns is None:
        return options
    said = _read(options.columns)
    name = options.columns.name
    for key in said:
        if key not in KEYS:
            raise OptionError(
                f"The key {key!r} is not known.",
                why="A key that is not understood would be lost without a word.",
                next_step=f"Use: {', '.join(KEYS)}.",
                place=name,
            )
    outcomes = [
        outcome_wish(column, _pairs(keys), place=f"{name}, [outcome.{column!r}]")
        for column, keys in _sections(said, "outcome", name).items()
    ]
    factors = [
        factor_wish(column, _pairs(keys), place=f"{name}, [factor.{column!r}]")
        for column, keys in _sections(said, "factor", name).items()
    ]
    return replace(
        options,
        outcomes=(*options.outcomes, *outcomes),
        factors=(*options.factors, *factors),
        run=options.run or _one(said, "run", name),
        setup=options.setup or _one(said, "setup", name),
        part=options.part or _one(said, "part", name),
        reading=options.reading or _one(said, "reading", name),
        blocks=(*options.blocks, *_names(said, "block", name)),
        ignore=(*options.ignore, *_names(said, "ignore", name)),
    )


def _read(path: Path) -> dict[str, Any]:
    try:
        data = path.read_bytes()
        if len(data) > BYTES_AT_MOST:
            raise FileError(
                f"The file has {len(data) / 1e6:.0f} MB.",
                why="A columns file names a few columns.",
                next_step="Check that --columns names the right file.",
                place=path.name,
            )
        return tomllib.loads(data.decode("utf-8-sig"))
    except OSError as met:
        raise FileError(
            f"The file cannot be read: {met.strerror or met}.",
            why="It says what the columns are.",
            next_step="Check the name behind --columns.",
            place=str(path),
        ) from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, RecursionError) as met:
        raise FileError(
            f"This is no TOML file: {met}.",
            why="What it says of the columns cannot be read.",
            next_step='Write lines such as [factor."name: with colon"] and unit = "mm".',
            place=path.name,
        ) from None


def _sections(said: Mapping[str, Any], key: str, name: str) -> dict[str, dict[str, Any]]:
    found = said.get(key, {})
    if not isinstance(found, dict) or not all(isinstance(one, dict) for one in found.values()):
        raise OptionError(
            f"{key!r} is not a group of sections.",
            why="Each column has its own section.",
            next_step=f'Write [{key}."NAME"] and its keys below.',
            place=name,
        )
    return found


def _pairs(keys: Mapping[str, Any]) -> list[tuple[str, str]]:
    return [(key, _as_text(value)) for key, value in keys.items()]


def _as_text(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return "|".join(map(str, value))
    return str(value)


def _names(said: Mapping[str, Any], key: str, name: str) -> tuple[str, ...]:
    found = said.get(key, [])
    listed = [found] if isinstance(found, str) else found
    if not isinstance(listed, list) or not all(isinstance(one, str) for one in listed):
        raise OptionError(
            f"{key!r} is {found!r}.",
            why="It names one column or a list of them.",
            next_step=f'Write {key} = "NAME".',
            place=name,
        )
    return tuple(listed)


def _one(said: Mapping[str, Any], key: str, name: str) -> str:
    names = _names(said, key, name)
    if len(names) > 1:
        raise OptionError(
            f"{key!r} names {len(names)} columns.",
            why="There is one such column.",
            next_step=f'Write {key} = "NAME".',
            place=name,
        )
    return names[0] if names else ""
