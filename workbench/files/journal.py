"""The journal of a trial: one file a writer, one line an entry, appended, synced, chained.

A line carries the SHA-256 of the line before it and of itself, so a line that was changed,
moved or taken out of the middle is noticed. Lines cut off at the very end are not: who can do
that can also take a whole file away.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import unicodedata
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from workbench.errors import FileError
from workbench.files.entries import entry_from_json, entry_to_json

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from workbench.files.entries import Entry

FOLDER = "results"
START = "0" * 64


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamped:
    """An entry with who made it, when (UTC, ISO 8601), and its place in the writer's file."""

    entry: Entry
    who: str
    when: str
    writer: str
    sequence: int
    digest: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Journal:
    """All entries of all writers in the order of time, then writer, then sequence."""

    entries: tuple[Stamped, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    entries: tuple[Stamped, ...]
    notes: tuple[str, ...]
    torn: bool


def writer_name(who: str, machine: str) -> str:
    """Return the name of a writer's file from a person and a machine, safe on any disk.

    Examples
    --------
    >>> writer_name("Åsa Lind", "bench-2")
    'asa-lind-bench-2'
    """
    plain = unicodedata.normalize("NFKD", f"{who} {machine}".casefold())
    return re.sub(r"[^a-z0-9]+", "-", plain.encode("ascii", "ignore").decode()).strip("-") or "x"


def read_journal(folder: Path) -> Journal:
    """Return the entries of every writer, merged.

    Raises
    ------
    FileError
        If a line is not what was written, or cannot be read.
    """
    parts = [_read_part(path) for path in sorted((folder / FOLDER).glob("*.jsonl"))]
    merged = sorted(
        (one for part in parts for one in part.entries),
        key=lambda one: (one.when, one.writer, one.sequence),
    )
    return Journal(
        entries=tuple(merged), notes=tuple(note for part in parts for note in part.notes)
    )


def append(
    folder: Path, entries: Sequence[Entry], *, writer: str, who: str, when: datetime | None = None
) -> tuple[Stamped, ...]:
    """Append entries to the writer's file; they are on the disk when this returns.

    Raises
    ------
    FileError
        If the file cannot be written, or what stands in it is not what was written.
    """
    moment = (when or datetime.now(UTC)).astimezone(UTC).isoformat(timespec="microseconds")
    path = folder / FOLDER / f"{writer}.jsonl"
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("a+b") as stream:
            _lock(stream.fileno())
            part = _read_part(path)
            stamped = _stamp(entries, part, who=who, when=moment, writer=writer)
            text = "".join(_line(one, before) for one, before in _with_previous(part, stamped))
            stream.write(("\n" if part.torn else "").encode() + text.encode())
            stream.flush()
            os.fsync(stream.fileno())
    except OSError as met:
        raise FileError(
            f"The journal cannot be written: {met.strerror or met}.",
            why="Nothing counts as recorded until it is on the disk.",
            next_step="Check that the folder may be written to and has room, and try again.",
            place=str(path),
        ) from None
    return stamped


def _lock(handle: int) -> None:
    """Wait until no other process of this machine appends to the same file."""
    try:
        import fcntl  # noqa: PLC0415 - exists on POSIX systems only
    except ImportError:
        return
    fcntl.flock(handle, fcntl.LOCK_EX)


def _stamp(
    entries: Sequence[Entry], part: _Part, *, who: str, when: str, writer: str
) -> tuple[Stamped, ...]:
    sequence, previous = _end(part)
    found = []
    for entry in entries:
        sequence += 1
        bare = Stamped(
            entry=entry, who=who, when=when, writer=writer, sequence=sequence, digest=""
        )
        previous = _digest(_fields(bare, previous))
        found.append(
            Stamped(
                entry=entry, who=who, when=when, writer=writer, sequence=sequence, digest=previous
            )
        )
    return tuple(found)


def _end(part: _Part) -> tuple[int, str]:
    return (part.entries[-1].sequence, part.entries[-1].digest) if part.entries else (0, START)


def _with_previous(part: _Part, stamped: Sequence[Stamped]) -> Iterator[tuple[Stamped, str]]:
    previous = _end(part)[1]
    for one in stamped:
        yield one, previous
        previous = one.digest


def _fields(one: Stamped, previous: str) -> dict[str, Any]:
    return {
        "sequence": one.sequence,
        "when": one.when,
        "who": one.who,
        **entry_to_json(one.entry),
        "previous": previous,
    }


def _digest(fields: dict[str, Any]) -> str:
    text = json.dumps(fields, sort_keys=True, ensure_ascii=True, allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()


def _line(one: Stamped, previous: str) -> str:
    fields = {**_fields(one, previous), "digest": one.digest}
    return json.dumps(fields, ensure_ascii=False, allow_nan=False) + "\n"


def _read_part(path: Path) -> _Part:
    if not path.exists():
        return _Part(entries=(), notes=(), torn=False)
    lines = path.read_bytes().split(b"\n")
    ended = lines[-1] == b""
    body = lines[:-1] if ended else lines
    entries: list[Stamped] = []
    waiting: int | None = None
    notes = []
    for number, line in enumerate(body, start=1):
        fields = _parsed(line)
        if fields is None:
            _check_one_torn(waiting, number, path)
            waiting = number
            continue
        entries.append(_checked(fields, entries, place=f"{path.name}, line {number}"))
        if waiting is not None:
            notes.append(_torn_note(path, waiting))
            waiting = None
    if waiting is not None and (ended or waiting < len(body)):
        raise _changed(f"{path.name}, line {waiting}")
    if waiting is not None:
        notes.append(_torn_note(path, waiting))
    return _Part(entries=tuple(entries), notes=tuple(notes), torn=bool(body) and not ended)


def _check_one_torn(waiting: int | None, number: int, path: Path) -> None:
    if waiting is not None:
        raise _changed(f"{path.name}, line {number}")


def _parsed(line: bytes) -> dict[str, Any] | None:
    try:
        fields = json.loads(line.decode("utf-8"))
    except (ValueError, RecursionError):
        return None
    return fields if isinstance(fields, dict) else None


def _checked(fields: dict[str, Any], before: Sequence[Stamped], *, place: str) -> Stamped:
    last = before[-1] if before else None
    bare = {key: value for key, value in fields.items() if key != "digest"}
    try:
        is_whole = (
            _digest(bare) == fields["digest"]
            and fields["previous"] == (last.digest if last else START)
            and fields["sequence"] == (last.sequence if last else 0) + 1
        )
        found = Stamped(
            entry=entry_from_json(fields),
            who=str(fields["who"]),
            when=str(fields["when"]),
            writer=place.partition(".jsonl")[0],
            sequence=int(fields["sequence"]),
            digest=str(fields["digest"]),
        )
    except (KeyError, TypeError, ValueError):
        raise _changed(place) from None
    if not is_whole:
        raise _changed(place)
    return found


def _torn_note(path: Path, line: int) -> str:
    return (
        f"{FOLDER}/{path.name}, line {line} breaks off (the machine stopped while writing); "
        "that entry was never acknowledged and is left out."
    )


def _changed(place: str) -> FileError:
    return FileError(
        "The line is not what was written, or a line before it is gone.",
        why="A journal whose past was changed proves nothing.",
        next_step="Put the file back from a copy; to correct a value, take a table with the "
        "right one (`workbench take`).",
        place=f"{FOLDER}/{place}",
    )
