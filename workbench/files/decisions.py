"""decisions.toml: what was decided and what is open, by whom, why; entries are only added.

A [[question]] is open until a [[decision]] says that it `answers` it, in the same words.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import tomlkit
import tomlkit.items

from workbench.errors import FileError
from workbench.files.atomic import write_text_atomically
from workbench.files.migration import in_schema, keep_backup, schema_of
from workbench.files.toml_text import read_text

if TYPE_CHECKING:
    from pathlib import Path

NAME = "decisions.toml"
SCHEMA = 1
KEYS = ("what", "reason", "by", "at")
HEAD = "What was decided in this trial, by whom, and why. Entries are added at the end."


@dataclass(frozen=True, slots=True, kw_only=True)
class DecisionEntry:
    """One decision: `what` in words, the `reason`, `by` whom, `at` which time (ISO 8601).

    `answers` is the question that it settles, word for word; empty if none was asked.
    """

    what: str
    reason: str
    by: str
    at: str
    answers: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class QuestionEntry:
    """One question put to a later day: `what`, the `reason` it matters, `by` whom, `at` when."""

    what: str
    reason: str
    by: str
    at: str


def read_decisions(folder: Path) -> tuple[DecisionEntry, ...]:
    """Return the decisions of a trial, oldest first; none if nothing was decided yet.

    Raises
    ------
    FileError
        If the file cannot be understood.
    """
    path = folder / NAME
    return tuple(
        DecisionEntry(**_words(one, path), answers=_answers(one, path))
        for one in _entries(path, "decision")
    )


def read_questions(folder: Path) -> tuple[QuestionEntry, ...]:
    """Return every question that was kept, answered or not, oldest first.

    Raises
    ------
    FileError
        If the file cannot be understood.
    """
    path = folder / NAME
    return tuple(QuestionEntry(**_words(one, path)) for one in _entries(path, "question"))


def _entries(path: Path, section: str) -> list[Any]:
    """Return what stands in one kind of section, still to be understood."""
    if not path.is_file():
        return []
    text = in_schema(read_text(path), file=NAME, schema=SCHEMA)
    _check_schema(path, schema_of(text))
    try:
        written = tomllib.loads(text)
    except (ValueError, RecursionError) as problem:
        raise FileError(
            f"The file is not TOML: {problem}.",
            why="What was decided can then not be read.",
            next_step="Mend the line, or put the file aside.",
            place=str(path),
        ) from None
    entries = written.get(section, [])
    if not isinstance(entries, list):
        raise _not_understood(path)
    return entries


def add_decision(folder: Path, entry: DecisionEntry) -> None:
    """Add a decision at the end of decisions.toml; what stands there stays, comments too.

    Raises
    ------
    FileError
        If the file cannot be understood or written, or is changed by someone else meanwhile.
    """
    _add(folder, "decision", entry)


def add_question(folder: Path, entry: QuestionEntry) -> None:
    """Add a question after those in decisions.toml, as `add_decision` adds a decision."""
    _add(folder, "question", entry)


def _add(folder: Path, section: str, entry: DecisionEntry | QuestionEntry) -> None:
    path = folder / NAME
    before = path.read_bytes() if path.is_file() else None
    read_decisions(folder)
    read_questions(folder)
    document = _fresh() if before is None else _as_now(path, before)
    entries = document.setdefault(section, tomlkit.aot())
    table = tomlkit.table()
    for key in KEYS:
        table.add(key, getattr(entry, key))
    if isinstance(entry, DecisionEntry) and entry.answers:
        table.add("answers", entry.answers)
    table.add(tomlkit.nl())
    entries.append(table)
    write_text_atomically(path, tomlkit.dumps(document), expected=before)


def _as_now(path: Path, before: bytes) -> tomlkit.TOMLDocument:
    """Return what stands in the file in the schema of today, a copy kept if that differs."""
    text = read_text(path)
    now = in_schema(text, file=NAME, schema=SCHEMA)
    if now != text:
        keep_backup(path, before)
    return tomlkit.parse(now)


def _fresh() -> tomlkit.TOMLDocument:
    document = tomlkit.document()
    document.add(tomlkit.comment(HEAD))
    document["schema"] = SCHEMA
    document.add(tomlkit.nl())
    return document


def _check_schema(path: Path, schema: int) -> None:
    if schema <= SCHEMA:
        return
    raise FileError(
        f"The file is written by schema {schema}; this workbench reads schema {SCHEMA}.",
        why="Keys may have changed their meaning, so a decision could be read as another.",
        next_step="Install a newer workbench.",
        place=str(path),
    )


def _words(written: Any, path: Path) -> dict[str, str]:
    if not isinstance(written, dict) or not all(isinstance(written.get(k), str) for k in KEYS):
        raise _not_understood(path)
    return {key: written[key] for key in KEYS}


def _answers(written: Any, path: Path) -> str:
    answers = written.get("answers", "")
    if not isinstance(answers, str):
        raise _not_understood(path)
    return answers


def _not_understood(path: Path) -> FileError:
    return FileError(
        "An entry is not understood.",
        why="Each [[decision]] and [[question]] says what, reason, by and at, each in quotes.",
        next_step="Mend the entry, or put the file aside.",
        place=str(path),
    )
