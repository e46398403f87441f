"""The journal of a trial: one file a writer, one line an entry, appended, synced, chained.

A line that was changed, moved or taken out is noticed by the digests that chain the lines, and
one cut off at the end by the note beside the file. An entry is acknowledged when `append`
returns; a line that breaks off was never acknowledged and is left out.
"""

from __future__ import annotations

import os
import re
import unicodedata
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime
from itertools import accumulate
from typing import TYPE_CHECKING

from workbench.errors import FileError
from workbench.files.atomic import sync_folder
from workbench.files.journal_ends import end_missed, last_line, read_ends, write_end
from workbench.files.journal_lines import (
    FOLDER,
    SCHEMA,
    START,
    End,
    Stamped,
    changed,
    is_torn,
    newer,
    parsed,
    stamped,
    written,
)
from workbench.files.links import check_stays_inside
from workbench.files.locks import locked
from workbench.files.versions import keep_versions, version_notes

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from io import FileIO
    from pathlib import Path

    from workbench.files.entries import Entry

__all__ = ["FOLDER", "START", "Journal", "Stamped", "append", "read_journal", "writer_name"]

MOST_BYTES = 100_000_000  # of all files together, some 250,000 entries


@dataclass(frozen=True, slots=True, kw_only=True)
class Journal:
    """All entries of all writers, and what is to be said of them.

    They stand in the order of time, then writer, then number. An entry counts as no earlier than
    the one before it in the same file, so a clock that was set back reorders nobody's own entries.
    """

    entries: tuple[Stamped, ...]
    notes: tuple[str, ...]

    @property
    def ends(self) -> Mapping[str, int]:
        """The number of the last entry of each writer."""
        return {one.writer: one.sequence for one in self.entries}


@dataclass(slots=True, kw_only=True)
class _Part:
    """One writer's file as far as it is read; `torn` are the numbers of lines that break off."""

    path: Path
    entries: list[Stamped] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    torn: list[int] = field(default_factory=list)

    @property
    def end(self) -> End:
        if not self.entries:
            return End()
        return End(sequence=self.entries[-1].sequence, digest=self.entries[-1].digest)


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
        If a line is not what was written, is missing or cannot be read, or if results were
        entered under two plans.
    """
    ends = read_ends(folder)  # first, so that an entry made meanwhile is never missed
    _check_size(folder, more=0)
    parts = [_read_part(path) for path in _paths(folder)]
    by_writer = {part.path.stem: part for part in parts}
    for writer, noted in ends.items():
        _check_end(by_writer.get(writer), writer, noted)
    merged = sorted(_timed(parts), key=lambda pair: (pair[0], pair[1].writer, pair[1].sequence))
    entries = tuple(one for _, one in merged)
    return Journal(
        entries=entries,
        notes=(
            *(note for part in parts for note in part.notes),
            *_unacknowledged(folder, by_writer, ends),
            *version_notes(folder, entries),
        ),
    )


def append(
    folder: Path,
    entries: Sequence[Entry],
    *,
    writer: str,
    who: str,
    when: datetime | None = None,
    seen: Journal | None = None,
) -> tuple[Stamped, ...]:
    """Append entries to the writer's file; they are on the disk when this returns.

    An entry that settles stands instead of what was `seen` of other writers' entries (all that is
    in the folder if None), and of nothing that was entered unseen. Only the end of the file is
    looked at; reading checks the whole of it.

    Raises
    ------
    FileError
        If the file cannot be written, or its end is not what was written; then nothing is added.
    RecordError
        If results were entered under two plans.
    """
    path = folder / FOLDER / f"{writer}.jsonl"
    check_stays_inside(path.parent, folder)
    try:
        is_new = not path.exists()
        path.parent.mkdir(parents=True, exist_ok=True)
        _refuse_link(path)
        with path.open("ab", buffering=0) as stream, locked(stream) as is_locked:
            bare = _bare(folder, entries, _Author(writer, who, _moment(when), is_locked, seen))
            made, data = written(bare, _end_of(folder, path))
            _check_size(folder, more=len(data))
            _add(stream, path, data)
            if is_new:
                sync_folder(path.parent)
                sync_folder(folder)
            _note_end(folder, made)
    except OSError as met:
        raise FileError(
            f"The journal cannot be written: {met.strerror or met}.",
            why="Nothing counts as recorded until it is on the disk; the file stands as before.",
            next_step="Check that the folder may be written to and has room, and try again.",
            place=str(path),
        ) from None
    return made


@dataclass(frozen=True, slots=True)
class _Author:
    writer: str
    who: str
    when: str
    is_locked: bool
    seen: Journal | None


def _moment(when: datetime | None) -> str:
    return (when or datetime.now(UTC)).astimezone(UTC).isoformat(timespec="microseconds")


def _bare(folder: Path, entries: Sequence[Entry], author: _Author) -> list[Stamped]:
    """Return entries that have no number and digest yet."""
    under = keep_versions(folder)
    settles = any(getattr(entry, "settles", False) for entry in entries)
    seen = _seen(folder, author) if settles else None
    return [
        Stamped(
            entry=entry,
            who=author.who,
            when=author.when,
            writer=author.writer,
            sequence=0,
            digest="",
            plan=under.plan,
            trial=under.trial,
            seen=seen if getattr(entry, "settles", False) else None,
            is_locked=author.is_locked,
        )
        for entry in entries
    ]


def _seen(folder: Path, author: _Author) -> tuple[tuple[str, int], ...]:
    ends = (author.seen or read_journal(folder)).ends
    return tuple(sorted((name, last) for name, last in ends.items() if name != author.writer))


def _end_of(folder: Path, path: Path) -> End:
    """Return the end of a file, by its last line if that is whole and the end that was noted."""
    noted = read_ends(folder).get(path.stem)
    end = last_line(path).end
    if end is not None and (noted is None or noted == end):
        return end
    part = _read_part(path)
    if noted is not None:
        _check_end(part, path.stem, noted)
    return part.end


def _add(stream: FileIO, path: Path, data: bytes) -> None:
    """Put data behind what stands in the file; nothing of it stays there if that fails."""
    handle = stream.fileno()
    size = path.stat().st_size
    left = memoryview(b"\n" + data if size and not _ends_its_line(path, size) else data)
    try:
        while left:
            left = left[os.write(handle, left) :]
        os.fsync(handle)
    except OSError:
        with suppress(OSError):  # if it stays, it is a line that breaks off
            os.ftruncate(handle, size)
        raise


def _note_end(folder: Path, made: Sequence[Stamped]) -> None:
    if not made:
        return
    # The entries are on the disk. An end that could not be noted is noted with the next one, and
    # is said when the journal is read before that.
    with suppress(FileError):
        end = End(sequence=made[-1].sequence, digest=made[-1].digest)
        write_end(folder, made[-1].writer, end)


def _ends_its_line(path: Path, size: int) -> bool:
    with path.open("rb") as stream:
        stream.seek(size - 1)
        return stream.read(1) == b"\n"


def _refuse_link(path: Path) -> None:
    if path.is_symlink():
        raise FileError(
            "The file is a link to another place.",
            why="A journal is kept in the folder of its trial.",
            next_step="Put the file itself there.",
            place=f"{FOLDER}/{path.name}",
        )


def _paths(folder: Path) -> list[Path]:
    # Not by a pattern: that finds nothing, without a word, in a folder that may not be read.
    try:
        found = sorted((folder / FOLDER).iterdir())
    except FileNotFoundError:
        return []
    except OSError as met:
        raise _unreadable(FOLDER, met.strerror or str(met)) from None
    return [path for path in found if path.suffix == ".jsonl"]


def _check_size(folder: Path, *, more: int) -> None:
    size = sum(path.stat().st_size for path in _paths(folder) if path.is_file()) + more
    if size > MOST_BYTES:
        raise FileError(
            f"The journal would have {size / 1e6:.0f} MB."
            if more
            else f"The journal has {size / 1e6:.0f} MB.",
            why=f"One trial holds at most {MOST_BYTES / 1e6:.0f} MB, some 250,000 entries.",
            next_step="Begin another trial, or take in means of what was read.",
            place=FOLDER,
        )


def _read_part(path: Path) -> _Part:
    part = _Part(path=path)
    data = _bytes(path)
    lines = data.split(b"\n")
    if lines[-1] == b"":
        lines.pop()
    for number, line in enumerate(lines, start=1):
        _take_in(part, line, number)
    if part.torn and part.torn[-1] == len(lines) and data.endswith(b"\n"):
        raise changed(f"{path.name}, line {part.torn[-1]}")
    part.notes += [_torn_note(path, number) for number in part.torn]
    if not all(one.is_locked for one in part.entries):
        part.notes.append(_unlocked_note(path))
    return part


def _take_in(part: _Part, data: bytes, number: int) -> None:
    place = f"{part.path.name}, line {number}"
    line = parsed(data)
    if line is None:
        if not is_torn(data, sequence=part.end.sequence + 1):
            raise changed(place)
        part.torn.append(number)
        return
    if isinstance(line.schema, int) and line.schema > SCHEMA:
        raise newer(line.schema, place)
    if not line.follows(part.end):
        raise changed(place)
    part.entries.append(stamped(line, writer=part.path.stem, place=place))


def _bytes(path: Path) -> bytes:
    place = f"{FOLDER}/{path.name}"
    try:
        if path.is_file():
            return path.read_bytes()
        if not path.exists() and not path.is_symlink():
            return b""
    except OSError as met:
        raise _unreadable(place, met.strerror or str(met)) from None
    raise _unreadable(place, "it is no file")


def _unreadable(place: str, problem: str) -> FileError:
    return FileError(
        f"The journal cannot be read: {problem}.",
        why="Without it nothing is known of what was seen.",
        next_step="Check the path and that you may read it.",
        place=place,
    )


def _timed(parts: Sequence[_Part]) -> Iterator[tuple[str, Stamped]]:
    """Yield each entry with the latest time in its file up to it."""
    for part in parts:
        times = accumulate((one.when for one in part.entries), max)
        yield from zip(times, part.entries, strict=True)


def _check_end(part: _Part | None, writer: str, noted: End) -> None:
    if part is None or part.end.sequence < noted.sequence:
        raise end_missed(writer, noted, None if part is None else part.end)
    if noted.sequence < 1 or part.entries[noted.sequence - 1].digest != noted.digest:
        raise changed(f"{part.path.name}, line {noted.sequence}")


def _unacknowledged(
    folder: Path, parts: Mapping[str, _Part], ends: Mapping[str, End]
) -> Iterator[str]:
    """Yield a note on each writer who was stopped between writing and being told so."""
    if all(parts[writer].end == noted for writer, noted in ends.items()):
        return
    for writer, noted in read_ends(folder).items():  # anew: somebody may be entering right now
        more = parts[writer].end.sequence - noted.sequence if writer in parts else 0
        if more > 0:
            yield (
                f"The last {more} entries of {FOLDER}/{writer}.jsonl were written but never "
                "confirmed (the program was stopped, or the disk was full): see whether all are "
                "there, or take their table again (nothing is entered twice)."
            )


def _torn_note(path: Path, line: int) -> str:
    return (
        f"{FOLDER}/{path.name}, line {line} breaks off (the machine stopped while writing); "
        "that entry was never acknowledged and is left out."
    )


def _unlocked_note(path: Path) -> str:
    return (
        f"{FOLDER}/{path.name} is on a drive that cannot keep a second program out while one "
        "writes: let only one program at a time enter results as this writer."
    )
