"""Change a TOML text where it differs and nowhere else: comments, order and spelling stay."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import tomlkit

from workbench.files.toml_lines import statements

if TYPE_CHECKING:
    from collections.abc import Iterable

    from workbench.files.toml_lines import Statement

    Document = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """The statements under one heading, comments right above it included; "" is the top."""

    heading: str
    lines: tuple[Statement, ...]

    @property
    def text(self) -> str:
        """Its statements as text."""
        return "".join(one.text for one in self.lines)


def blocks(text: str) -> list[Block]:
    """Return the blocks of a valid TOML text: the top, then one for each heading.

    A heading within a section, such as [factor.varies], belongs to the block of its section.
    """
    headings = [""]
    found: list[list[Statement]] = [[]]
    for one in statements(text):
        if one.brackets and len(one.names) == 1:
            headings.append(one.names[0])
            found.append([*_comments_above(found[-1]), one])
        else:
            found[-1].append(one)
    return [
        Block(heading=heading, lines=tuple(lines))
        for heading, lines in zip(headings, found, strict=True)
    ]


def edited(block: Block, was: Document, will: Document, *, one_of: tuple[str, ...] = ()) -> Block:
    """Return a block in which the keys that differ between two documents are changed.

    Keys in `one_of` are ways to say one thing: if any differs, all old ones go.
    """
    gone = set(was) - set(will)
    if any(was.get(key) != will.get(key) for key in one_of):
        gone |= set(one_of)
    lines = [one for one, key in _keys(block.lines) if key not in gone]
    at = next((i for i, one in enumerate(lines) if one.brackets), -1)
    for key, value in will.items():
        places = [i for i, (_, owner) in enumerate(_keys(lines)) if owner == key]
        if not places or was.get(key) != value:
            at = _put(lines, places, pair(key, value), after=at)
        else:
            at = places[-1]
    return replace(block, lines=tuple(lines))


def new_block(heading: str, values: Document, *, is_repeated: bool) -> Block:
    """Return a block that says what a document says, a blank line before it."""
    title = f"[[{heading}]]" if is_repeated else f"[{heading}]"
    text = f"\n{title}\n" + "".join(pair(key, value) for key, value in values.items())
    return Block(heading=heading, lines=statements(text))


def exchanged(old: list[Block], heading: str, new: Iterable[Block]) -> list[Block]:
    """Return blocks with those of one heading exchanged, where the old ones stood."""
    coming = list(new)
    places = [i for i, one in enumerate(old) if one.heading == heading]
    result: list[Block] = []
    for i, one in enumerate(old):
        if one.heading != heading:
            result.append(one)
        elif coming:
            result.append(coming.pop(0))
        if places and i == places[-1]:
            result += coming
            coming = []
    return result + coming


def joined(all_blocks: Iterable[Block]) -> str:
    """Return the text of blocks, one blank line before each that was added."""
    text = ""
    for one in all_blocks:
        is_parted = text.endswith("\n\n") and one.text.startswith("\n")
        text += one.text.removeprefix("\n") + "\n" if is_parted else one.text
    return text


def pair(key: str, value: Any) -> str:
    """Return `key = value` as a line of TOML."""
    bare = re.fullmatch(r"[A-Za-z0-9_-]+", key) is not None
    return f"{key if bare else written(key)} = {written(value)}\n"


def written(value: Any) -> str:
    """Return a value as TOML on one line."""
    if isinstance(value, dict):
        inner = ", ".join(pair(key, one).rstrip("\n") for key, one in value.items())
        return f"{{ {inner} }}"
    if isinstance(value, list):
        return f"[{', '.join(map(written, value))}]"
    return str(tomlkit.item(value).as_string())


def _keys(lines: Iterable[Statement]) -> list[tuple[Statement, str]]:
    """Return each statement with the key of the block that it is part of ("" if of none)."""
    found = []
    inner = ""
    for one in lines:
        if one.brackets:
            inner = one.names[1] if len(one.names) > 1 else ""
        found.append((one, inner or (one.names[0] if one.is_pair else "")))
    return found


def _put(lines: list[Statement], places: list[int], line: str, *, after: int) -> int:
    """Put a pair in place of the old statements of its key, or after a line; return where."""
    (new,) = statements(line)
    old = lines[places[0]] if len(places) == 1 else None
    if old is not None and old.is_pair and len(old.names) == 1:
        text = old.text[: old.value_from] + line[new.value_from : new.value_to]
        lines[places[0]] = statements(text + old.text[old.value_to :])[0]
        return places[0]
    for place in reversed(places):
        del lines[place]
    # Behind an inner heading a key would belong to that heading.
    end = next((i for i, one in enumerate(lines) if len(one.names) > 1 and one.brackets), None)
    at = min(after + 1, len(lines) if end is None else end)
    while at < len(lines) and lines[at].is_comment and lines[at].text[0].isspace():
        at += 1  # an indented comment goes on with what the line above it said
    lines.insert(at, new)
    return at


def _comments_above(lines: list[Statement]) -> list[Statement]:
    """Take the comments that stand right above a heading from the block before it."""
    taken: list[Statement] = []
    while lines and lines[-1].is_comment:
        taken.insert(0, lines.pop())
    return taken
