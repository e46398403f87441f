"""One line of the journal: what it holds, how it is written, how a changed one is noticed.

A line carries the SHA-256 of the line before it (`previous`) and of itself up to there
(`digest`). Schema 2 takes its own digest of the bytes as they stand; lines without a `schema` are
of schema 1, which took it of the fields written out again in alphabetical order.
"""

from __future__ import annotations

import hashlib
import json
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from workbench.errors import FileError, WorkbenchError
from workbench.files.entries import entry_from_json, entry_to_json

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.files.entries import Entry

FOLDER = "results"
SCHEMA = 2
START = "0" * 64
_TAIL = len(', "digest": "') + 64 + len('"}')
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

    entry: Entry
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
        if self.schema == SCHEMA:
            return bool(hashlib.sha256(self.data[:-_TAIL]).hexdigest() == digest)
        return self.schema == 1 and _digest_of_fields(self.fields) == digest


def parsed(data: bytes) -> Line | None:
    """Return the line that bytes hold, None if they are no JSON object."""
    data = data.rstrip(b"\r")  # line ends may change on the way through mail or version control
    try:
        text = data.decode("utf-8")
        fields = json.loads(text)
        if "\\u" in text:  # half a letter passes JSON, but can never be written out again
            json.dumps(fields, ensure_ascii=False).encode()
    except (ValueError, RecursionError):
        return None
    return Line(data=data, fields=fields) if isinstance(fields, dict) else None


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
            entry=entry_from_json(fields),
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
    except _NOT_AN_ENTRY:
        raise changed(place) from None


def written(bare: Sequence[Stamped], before: End) -> tuple[tuple[Stamped, ...], bytes]:
    """Return entries with their numbers and digests after `before`, and their lines.

    Raises
    ------
    FileError
        If a text holds half a letter, which no file can.
    """
    found, lines = [], []
    sequence, previous = before.sequence, before.digest
    for one in bare:
        sequence += 1
        body = _ENCODER.encode(
            {"schema": SCHEMA, "sequence": sequence, **_fields(one), "previous": previous}
        )
        data = _encoded(body[:-1])
        previous = hashlib.sha256(data).hexdigest()
        lines.append(data + f', "digest": "{previous}"}}\n'.encode())
        found.append(_numbered(one, sequence, previous))
    return tuple(found), b"".join(lines)


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


def _fields(one: Stamped) -> dict[str, Any]:
    fields: dict[str, Any] = {"when": one.when, "who": one.who, **entry_to_json(one.entry)}
    if one.plan is not None:
        fields["plan"] = one.plan
    if one.trial:
        fields["trial"] = one.trial
    if one.seen is not None:
        fields["seen"] = dict(one.seen)
    if not one.is_locked:
        fields["unlocked"] = True
    return fields


def _numbered(one: Stamped, sequence: int, digest: str) -> Stamped:
    return Stamped(
        entry=one.entry,
        who=one.who,
        when=one.when,
        writer=one.writer,
        sequence=sequence,
        digest=digest,
        plan=one.plan,
        trial=one.trial,
        seen=one.seen,
        is_locked=one.is_locked,
    )


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
