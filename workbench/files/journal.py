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
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from workbench.errors import FileError
from workbench.files.atomic import sync_folder
from workbench.files.journal_ends import last_line, read_ends, write_end
from workbench.files.journal_files import (
    Journal,
    check_end,
    check_size,
    read_journal,
    read_part,
)
from workbench.files.journal_lines import FOLDER, START, End, Stamped, written
from workbench.files.links import check_stays_inside
from workbench.files.locks import locked
from workbench.files.versions import keep_versions

if TYPE_CHECKING:
    from collections.abc import Sequence
    from io import FileIO
    from pathlib import Path

    from workbench.files.table_json import AnyEntry

__all__ = ["FOLDER", "START", "Journal", "Stamped", "append", "read_journal", "writer_name"]


def writer_name(who: str, machine: str) -> str:
    """Return the name of a writer's file from a person and a machine, safe on any disk.

    Examples
    --------
    >>> writer_name("Åsa Lind", "bench-2")
    'asa-lind-bench-2'
    """
    plain = unicodedata.normalize("NFKD", f"{who} {machine}".casefold())
    return re.sub(r"[^a-z0-9]+", "-", plain.encode("ascii", "ignore").decode()).strip("-") or "x"


def append(
    folder: Path,
    entries: Sequence[AnyEntry],
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
            check_size(folder, more=len(data))
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


def _bare(folder: Path, entries: Sequence[AnyEntry], author: _Author) -> list[Stamped]:
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
    part = read_part(path)
    if noted is not None:
        check_end(part, path.stem, noted)
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
