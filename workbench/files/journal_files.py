"""The files of the journal read, checked line by line, and merged."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import accumulate
from typing import TYPE_CHECKING

from workbench.errors import FileError
from workbench.files.journal_ends import end_missed, read_ends
from workbench.files.journal_lines import (
    FOLDER,
    MOST_LINE,
    SCHEMA,
    End,
    changed,
    is_torn,
    newer,
    parsed,
    stamped,
    too_long,
)
from workbench.files.versions import version_notes

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    from workbench.files.journal_lines import Stamped

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
class Part:
    """One writer's file as far as it is read; `torn` are the numbers of lines that break off."""

    path: Path
    entries: list[Stamped] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    torn: list[int] = field(default_factory=list)

    @property
    def end(self) -> End:
        """Number and digest of the last entry that was read."""
        if not self.entries:
            return End()
        return End(sequence=self.entries[-1].sequence, digest=self.entries[-1].digest)


def read_journal(folder: Path) -> Journal:
    """Return the entries of every writer, merged.

    Raises
    ------
    FileError
        If a line is not what was written, is missing or cannot be read, or if results were
        entered under two plans.
    """
    ends = read_ends(folder)  # first, so that an entry made meanwhile is never missed
    check_size(folder, more=0)
    parts = [read_part(path) for path in _paths(folder)]
    by_writer = {part.path.stem: part for part in parts}
    for writer, noted in ends.items():
        check_end(by_writer.get(writer), writer, noted)
    merged = sorted(_timed(parts), key=lambda pair: (pair[0], pair[1].writer, pair[1].sequence))
    entries = tuple(one for _, one in merged)
    return Journal(
        entries=entries,
        notes=(
            *(note for part in parts for note in part.notes),
            *_unacknowledged(folder, by_writer, ends),
            *version_notes(folder),
        ),
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


def check_size(folder: Path, *, more: int) -> None:
    """Refuse a journal that is too large, or would be with `more` bytes.

    Raises
    ------
    FileError
        If it is.
    """
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


def read_part(path: Path) -> Part:
    """Return what one writer's file holds, every line checked.

    Raises
    ------
    FileError
        If a line is not what was written, or the file cannot be read.
    """
    part = Part(path=path)
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


def _take_in(part: Part, data: bytes, number: int) -> None:
    place = f"{part.path.name}, line {number}"
    if len(data) > MOST_LINE:
        raise too_long(place)
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


def _timed(parts: Sequence[Part]) -> Iterator[tuple[str, Stamped]]:
    """Yield each entry with the latest time in its file up to it."""
    for part in parts:
        times = accumulate((one.when for one in part.entries), max)
        yield from zip(times, part.entries, strict=True)


def check_end(part: Part | None, writer: str, noted: End) -> None:
    """Check that a file (None if it is gone) goes as far as was noted.

    Raises
    ------
    FileError
        If lines are missing, or the last of them is another.
    """
    if part is None or part.end.sequence < noted.sequence:
        raise end_missed(writer, noted, None if part is None else part.end)
    if noted.sequence < 1 or part.entries[noted.sequence - 1].digest != noted.digest:
        raise changed(f"{part.path.name}, line {noted.sequence}")


def _unacknowledged(
    folder: Path, parts: Mapping[str, Part], ends: Mapping[str, End]
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
