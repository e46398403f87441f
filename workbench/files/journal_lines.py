"""One line of the journal: what it holds, how it is written, how a changed one is noticed.

A line carries the SHA-256 of the line before it (`previous`) and of itself up to there
(`digest`). Schemas 2 and 3 take their own digest of the bytes as they stand; 3 is a table taken in
whole, which says what it was made under before its columns. Lines without a `schema` are of schema
1, which took the digest of the fields written out again in alphabetical order.
"""

from __future__ import annotations

import hashlib
import json
import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from workbench.errors import FileError, WorkbenchError
from workbench.files.table_entry import TableEntry
from workbench.files.table_json import KIND, WrongRowError, any_from_json, any_to_json

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.files.table_json import AnyEntry

FOLDER = "results"
SCHEMA = 3
SINGLE = 2  # what a line of one run, reading or receipt is of
START = "0" * 64
MOST_LINE = 32_000_000  # bytes: room for 500,000 readings, and what a hostile one may cost to read
_TAIL = len(', "digest": "') + 64 + len('"}')
_CHAIN = len(', "previous": "') + 64 + len('"') + _TAIL
_COLUMNS = f', "kind": "{KIND}", '.encode()
_ENCODER = json.JSONEncoder(ensure_ascii=False, allow_nan=False)
_NOT_AN_ENTRY = (KeyError, TypeError, ValueError, AttributeError, OverflowError, WorkbenchError)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamped:
    """An entry with who made it, when (UTC, ISO 8601), and its place in the writer's file.

    `plan` and `trial` name the versions it was made under (`plan` is empty if there was no plan;
    None in lines that do not say). `seen` lists, for an entry that settles, how far its author
    had read the file of each other writer. `is_locked` is False where the drive could not keep
    a second program out.
    """

    entry: AnyEntry
    who: str
    when: str
    writer: str
    sequence: int
    digest: str
    plan: str | None = None
    trial: str = ""
    seen: tuple[tuple[str, int], ...] | None = None
    is_locked: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class End:
    """The last entry of a writer's file: its number and digest; number 0 of an empty file."""

    sequence: int = 0
    digest: str = START


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A line as it stands in a file: its bytes and the fields they hold."""

    data: bytes
    fields: dict[str, Any]

    @property
    def schema(self) -> object:
        """The schema that the line says it is of."""
        return self.fields.get("schema", 1)

    def follows(self, before: End) -> bool:
        """Return whether this is the line that was written after `before`, unchanged."""
        return (
            self.fields.get("previous") == before.digest
            and self.fields.get("sequence") == before.sequence + 1
            and self.is_whole()
        )

    def is_whole(self) -> bool:
        """Return whether the line is what was written."""
        digest = self.fields.get("digest")
        if self.schema in (SINGLE, SCHEMA):
            is_tail = self.data.endswith(f', "digest": "{digest}"}}'.encode())
            return is_tail and hashlib.sha256(self.data[:-_TAIL]).hexdigest() == digest
        return self.schema == 1 and _digest_of_fields(self.fields) == digest


def parsed(data: bytes) -> Line | None:
    """Return the line that bytes hold, None if they are no JSON object."""
    data = data.rstrip(b"\r")  # line ends may change on the way through mail or version control
    if len(data) > MOST_LINE:
        return None
    try:
        text = data.decode("utf-8")
        fields = json.loads(text)
        if "\\u" in text:  # half a letter passes JSON, but can never be written out again
            json.dumps(fields, ensure_ascii=False).encode()
    except (ValueError, RecursionError):
        return None
    return Line(data=data, fields=fields) if isinstance(fields, dict) else None


def glanced(data: bytes) -> Line | None:
    """Return a line of which the columns of a table are not read; any other as `parsed` does.

    Only a key of the line itself can stand as `_COLUMNS` does: in a text its marks are escaped.
    """
    data = data.rstrip(b"\r")
    at = data.find(_COLUMNS)
    around = None if at < 0 else parsed(data[:at] + data[-_CHAIN:])
    return parsed(data) if around is None else Line(data=data, fields=around.fields)


def headed(data: bytes) -> Line | None:
    """Return a line as `parsed` does; of a table no more than the beginning need be there."""
    at = data.find(_COLUMNS)
    return parsed(data if at < 0 else data[:at] + b"}")


def stamped(line: Line, *, writer: str, place: str) -> Stamped:
    """Return the entry that a line holds; `place` is what messages call it.

    Raises
    ------
    FileError
        If it holds none.
    """
    fields = line.fields
    try:
        seen = fields.get("seen")
        plan = fields.get("plan")
        return Stamped(
            entry=any_from_json(fields),
            who=str(fields["who"]),
            when=str(fields["when"]),
            writer=writer,
            sequence=int(fields["sequence"]),
            digest=str(fields["digest"]),
            plan=None if plan is None else checked_pointer(plan),
            trial=checked_pointer(fields.get("trial", "")),
            seen=None if seen is None else tuple((str(k), int(v)) for k, v in seen.items()),
            is_locked=not fields.get("unlocked", False),
        )
    except WrongRowError as met:
        raise changed(f"{place}, {met}") from None
    except _NOT_AN_ENTRY:
        raise changed(place) from None


def written(bare: Sequence[Stamped], before: End) -> tuple[tuple[Stamped, ...], bytes]:
    """Return entries with their numbers and digests after `before`, and their lines.

    Raises
    ------
    FileError
        If a text holds half a letter, which no file can.
    """
    found: list[Stamped] = []
    lines: list[bytes] = []
    end, waiting = before, list(reversed(bare))
    while waiting:
        one = waiting.pop()
        data = _encoded(_body(one, end))
        if len(data) > MOST_LINE - _TAIL:
            waiting.extend(reversed(_halves(one)))
            continue
        end = End(sequence=end.sequence + 1, digest=hashlib.sha256(data).hexdigest())
        lines.append(data + f', "digest": "{end.digest}"}}\n'.encode())
        found.append(replace(one, sequence=end.sequence, digest=end.digest))
    return tuple(found), b"".join(lines)


def _body(one: Stamped, before: End) -> str:
    """Return a line up to its digest; a table stands behind all that is said of it."""
    is_table = isinstance(one.entry, TableEntry)
    entry = any_to_json(one.entry)
    made = {"when": one.when, "who": one.who}
    fields = {**made, **_made_under(one), **entry} if is_table else {**made, **entry}
    if not is_table:
        fields |= _made_under(one)
    first = {"schema": SCHEMA if is_table else SINGLE, "sequence": before.sequence + 1}
    return _ENCODER.encode({**first, **fields, "previous": before.digest})[:-1]


def _halves(one: Stamped) -> list[Stamped]:
    halves = one.entry.halves() if isinstance(one.entry, TableEntry) else ()
    if len(halves) < 2:
        raise FileError(
            f"An entry is longer than {MOST_LINE / 1e6:.0f} MB.",
            why="Each is one line of the journal, and a longer one would not be read again.",
            next_step="Shorten its texts.",
        )
    return [replace(one, entry=half) for half in halves]


def checked_pointer(value: object) -> str:
    """Return the name of a version, which becomes part of a file's name.

    Raises
    ------
    ValueError
        If it is no such name.
    """
    if isinstance(value, str) and re.fullmatch(r"([0-9a-f]{16})?", value):
        return value
    raise ValueError(value)


def is_torn(data: bytes, *, sequence: int) -> bool:
    """Return whether bytes are the beginning of the entry of that number, cut short.

    A file system may have made room for a line before a power cut and never filled it: then
    zeros stand at its end.
    """
    found = data.rstrip(b"\0")
    starts = (
        f'{{"schema": {SCHEMA}, "sequence": {sequence}, "when": "'.encode(),
        f'{{"schema": {SINGLE}, "sequence": {sequence}, "when": "'.encode(),
        f'{{"sequence": {sequence}, "when": "'.encode(),
    )
    return any(found.startswith(one) or one.startswith(found) for one in starts)


def changed(place: str) -> FileError:
    """Return the error for a line that is not what was written."""
    return FileError(
        "The line is not what was written, or a line before it is gone.",
        why="A journal whose past was changed proves nothing.",
        next_step="Put the file back from a copy; to correct a value, take a table with the "
        "right one (`workbench take`).",
        place=f"{FOLDER}/{place}",
    )


def newer(schema: object, place: str) -> FileError:
    """Return the error for a line of a schema that this workbench does not know."""
    return FileError(
        f"The line is of schema {schema!r}; this workbench reads up to schema {SCHEMA}.",
        why="Read by other rules than it was written by, an entry could say something else.",
        next_step="Install a newer workbench.",
        place=f"{FOLDER}/{place}",
    )


def too_long(place: str) -> FileError:
    """Return the error for a line that is longer than any that is written."""
    return FileError(
        f"The line has more than {MOST_LINE / 1e6:.0f} MB.",
        why="The workbench writes none that long, and reading it could take all memory.",
        next_step="Put the file back from a copy.",
        place=f"{FOLDER}/{place}",
    )


def _made_under(one: Stamped) -> dict[str, Any]:
    fields: dict[str, Any] = {}
    if one.plan is not None:
        fields["plan"] = one.plan
    if one.trial:
        fields["trial"] = one.trial
    if one.seen is not None:
        fields["seen"] = dict(one.seen)
    if not one.is_locked:
        fields["unlocked"] = True
    return fields


def _encoded(text: str) -> bytes:
    try:
        return text.encode()
    except UnicodeEncodeError as met:
        around = text[max(0, met.start - 20) : met.start + 20]
        raise FileError(
            f"A text holds something that is no letter: {around!a}.",
            why="It could not be read back.",
            next_step="Type the text anew.",
        ) from None


def _digest_of_fields(fields: dict[str, Any]) -> str:
    bare = {key: value for key, value in fields.items() if key != "digest"}
    try:
        text = json.dumps(bare, sort_keys=True, ensure_ascii=True, allow_nan=False)
    except (ValueError, RecursionError):
        return ""
    return hashlib.sha256(text.encode()).hexdigest()
