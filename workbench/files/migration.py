"""Bring the text of a file from an older schema to today's, one step after another.

Reading does so in memory and changes nothing on the disk; whoever writes the file next keeps
the old one in backup/ first. Lines of the journal are never written anew: each is read by the
rules of the schema it names (`journal_lines`).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from workbench.errors import FileError
from workbench.files.atomic import write_bytes_atomically
from workbench.files.links import check_stays_inside

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

BACKUPS = "backup"
_STATED = re.compile(r"^schema[ \t]*=[ \t]*(\d{1,9})[ \t]*(#.*)?$", re.MULTILINE)
_FIRST_SECTION = re.compile(r"^[ \t]*\[", re.MULTILINE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """How a file of one schema becomes one of the next; schema 0 is a file that names none."""

    file: str
    schema: int
    change: Callable[[str], str]


def _number_decisions(text: str) -> str:
    """Put the number before everything, where it cannot fall into a section."""
    return f"schema = 1\n\n{text}"


# Decisions were once written without a number. Trials and plans always had one.
STEPS: tuple[Step, ...] = (Step(file="decisions.toml", schema=0, change=_number_decisions),)


def in_schema(text: str, *, file: str, schema: int) -> str:
    """Return the text of a file in a schema; as it stands if no step leads there from its own.

    Whoever reads it then refuses a schema that is still another: older, newer, or none.
    """
    found = schema_of(text)
    while text.strip() and found < schema:
        step = next((one for one in STEPS if (one.file, one.schema) == (file, found)), None)
        if step is None:
            return text
        text, found = step.change(text), found + 1
    return text


def schema_of(text: str) -> int:
    """Return the schema that a TOML text names above its first section, 0 if it names none."""
    section = _FIRST_SECTION.search(text)
    stated = _STATED.search(text, 0, section.start() if section else len(text))
    return int(stated[1]) if stated else 0


def keep_backup(path: Path, data: bytes) -> Path:
    """Keep what a file holds as backup/NAME.TIME (UTC) beside it, and return where.

    Raises
    ------
    FileError
        If it cannot be written.
    """
    stem = f"{path.name}.{datetime.now(UTC).strftime('%Y-%m-%dT%H%M%SZ')}"
    folder = path.parent / BACKUPS
    check_stays_inside(folder, path.parent)
    try:
        folder.mkdir(exist_ok=True)
    except OSError as met:
        raise FileError(
            f"The folder {BACKUPS} cannot be made: {met.strerror or met}.",
            why="A file of an older workbench is kept before it is written anew.",
            next_step="Check that the trial's folder may be written to.",
            place=str(path.parent),
        ) from None
    names = (stem, *(f"{stem}-{i}" for i in range(2, 100)))
    kept = folder / next((one for one in names if not (folder / one).exists()), stem)
    write_bytes_atomically(kept, data)
    return kept
