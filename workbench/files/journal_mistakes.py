"""Every line of the journal that is not what was written, where reading stops at the first."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.errors import WorkbenchError
from workbench.files.journal import Journal, read_journal
from workbench.files.journal_lines import FOLDER, End, changed, is_torn, parsed, stamped

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from workbench.errors import FileError
    from workbench.files.journal_lines import Line, Stamped

BYTES_AT_MOST = 100_000_000
MOST_NAMED = 50  # lines of one file


@dataclass(frozen=True, slots=True, kw_only=True)
class JournalReading:
    """The journal as far as it can be read, and what is wrong with the rest."""

    journal: Journal
    mistakes: tuple[WorkbenchError, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Placed:
    """A line with its place; `line` is None where it is no JSON object."""

    place: str
    data: bytes
    line: Line | None


def journal_reading(folder: Path) -> JournalReading:
    """Return the entries of every writer, and every line that is not what was written."""
    try:
        return JournalReading(journal=read_journal(folder), mistakes=())
    except WorkbenchError as first:
        return _line_by_line(folder, first)


def _line_by_line(folder: Path, first: WorkbenchError) -> JournalReading:
    entries: list[Stamped] = []
    mistakes: list[WorkbenchError] = [first]
    for path in sorted((folder / FOLDER).glob("*.jsonl")):
        lines = _lines(path)
        broken = (one for one in _broken(lines) if one.place != first.place)
        mistakes += [one for one, _ in zip(broken, range(MOST_NAMED), strict=False)]
        entries += _entries(lines, path.stem)
    merged = sorted(entries, key=lambda one: (one.when, one.writer, one.sequence))
    return JournalReading(
        journal=Journal(entries=tuple(merged), notes=()), mistakes=tuple(mistakes)
    )


def _lines(path: Path) -> tuple[_Placed, ...]:
    try:
        data = path.read_bytes() if path.stat().st_size <= BYTES_AT_MOST else b""
    except OSError:  # the first mistake says so
        return ()
    body = data.split(b"\n")
    if body[-1] == b"":
        body.pop()
    return tuple(
        _Placed(place=f"{path.name}, line {number}", data=line, line=parsed(line))
        for number, line in enumerate(body, start=1)
    )


def _broken(lines: tuple[_Placed, ...]) -> Iterator[FileError]:
    """Yield each line that does not follow from the one before it, and judge the next anew."""
    before = End()
    for one in lines:
        if one.line is None:
            if not is_torn(one.data, sequence=before.sequence + 1):
                yield changed(one.place)
            continue
        if not one.line.follows(before):
            yield changed(one.place)
        before = _end(one.line)


def _end(line: Line) -> End:
    sequence, digest = line.fields.get("sequence"), line.fields.get("digest")
    number = sequence if isinstance(sequence, int) and not isinstance(sequence, bool) else 0
    return End(sequence=number, digest=str(digest))


def _entries(lines: tuple[_Placed, ...], writer: str) -> Iterator[Stamped]:
    """Yield what can be understood, so that what it says can be looked at as well."""
    for one in lines:
        if one.line is None:
            continue
        try:
            yield stamped(one.line, writer=writer, place=one.place)
        except WorkbenchError:
            continue
