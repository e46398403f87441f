"""How far each writer's file goes: its last line, and a note beside it of what must be there.

`results/<writer>.end` holds number and digest of the last entry that was acknowledged, so lines
that were cut off cleanly at the end are missed, and so is a file of which only the note is left.
Who takes both away leaves no trace here.
"""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from workbench.errors import FileError
from workbench.files.atomic import write_text_atomically
from workbench.files.journal_lines import FOLDER, End, glanced

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from workbench.files.journal_lines import Line

SUFFIX = ".end"
SCHEMA = 1
MOST_BYTES = 1_000
FIRST_LOOK = 4096  # bytes; nearly every line is shorter


@dataclass(frozen=True, slots=True, kw_only=True)
class LastLine:
    """The last line of a file, None if the file is empty or its last line is not whole."""

    line: Line | None
    size: int

    @property
    def end(self) -> End | None:
        """Number and digest of the last entry, None if only reading the whole file can tell."""
        if self.size == 0:
            return End()
        if self.line is None or not self.line.is_whole():
            return None
        return _end(self.line.fields)


def last_line(path: Path) -> LastLine:
    """Return the last line of a writer's file without reading the rest.

    Raises
    ------
    OSError
        If the file cannot be read.
    """
    if not path.exists():
        return LastLine(line=None, size=0)
    with path.open("rb") as stream:
        size = stream.seek(0, os.SEEK_END)
        length = FIRST_LOOK
        while True:
            start = max(0, size - length)
            stream.seek(start)
            _, found, rest = stream.read(size - start).rstrip(b"\r\n").rpartition(b"\n")
            if found or start == 0:
                break
            length *= 4
        stream.seek(max(0, size - 1))
        ended = stream.read(1) == b"\n"
    return LastLine(line=glanced(rest) if ended else None, size=size)


def read_ends(folder: Path) -> Mapping[str, End]:
    """Return the end that was noted for each writer.

    Raises
    ------
    FileError
        If a note is not understood.
    """
    return {path.stem: _noted(path) for path in sorted((folder / FOLDER).glob(f"*{SUFFIX}"))}


def write_end(folder: Path, writer: str, end: End) -> None:
    """Note the end of a writer's file, whole or not at all.

    Raises
    ------
    FileError
        If it cannot be written.
    """
    note = {"schema": SCHEMA, "sequence": end.sequence, "digest": end.digest}
    write_text_atomically(folder / FOLDER / f"{writer}{SUFFIX}", json.dumps(note) + "\n")


def end_missed(writer: str, noted: End, found: End | None) -> FileError:
    """Return the error for a file that ends before its noted end, or otherwise."""
    has = "is gone" if found is None else f"ends with entry {found.sequence}"
    return FileError(
        f"The file {has}, but entry {noted.sequence} was written and acknowledged.",
        why="Results that were recorded are missing, so anything worked out from the rest may "
        "be wrong.",
        next_step="Put the file back from a copy. If there is none, write down in a note what is "
        f"lost and delete {FOLDER}/{writer}{SUFFIX}: the rest is read again then.",
        place=f"{FOLDER}/{writer}.jsonl",
    )


def _noted(path: Path) -> End:
    fields: Any = None
    try:
        with path.open("rb") as stream:
            fields = json.loads(stream.read(MOST_BYTES).decode("ascii"))
        end = _end(fields)
    except (OSError, ValueError, RecursionError):
        end = None
    if end is None or fields.get("schema") != SCHEMA:
        raise FileError(
            "The file is not what was written.",
            why="It says how far the journal beside it went, so that a loss is noticed.",
            next_step="Put it back from a copy; or delete it, and the journal is read without.",
            place=f"{FOLDER}/{path.name}",
        )
    return end


def _end(fields: Any) -> End | None:
    if not isinstance(fields, dict):
        return None
    sequence, digest = fields.get("sequence"), fields.get("digest")
    if type(sequence) is not int or not isinstance(digest, str):
        return None
    return End(sequence=sequence, digest=digest)
