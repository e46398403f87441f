"""A TOML file: its values, the line on which each stands, and what to write instead of a slip."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from workbench.errors import FileError
from workbench.files.toml_lines import line_of

if TYPE_CHECKING:
    from pathlib import Path

    from workbench.files.toml_lines import KeyPath

MOST_BYTES = 1_000_000  # a trial written by hand is a few kilobytes
MOST_LINES = 10_000
MOST_DOTS = 40  # in one key; the keys of a trial have one or none
LONGEST_SHOWN = 200  # letters of a line in which a slip is looked for

# Forty names with dots between: the time to read such a key grows with the square of its length.
_DOTTED = re.compile(r"""(?<![\w"'-])(?:(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+')\s*+\.\s*+){40}""")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TomlText:
    """A TOML text that has been read: its name for messages, its letters, its values."""

    name: str
    text: str
    values: dict[str, Any]

    def place(self, path: KeyPath) -> str:
        """Return where a key stands, or the table that lacks it: file and line."""
        line = line_of(self.text, path)
        return self.name if line is None else f"{self.name}, line {line}"


def read_text(path: Path) -> str:
    """Return the text of a UTF-8 file of at most 1 MB, without a byte-order mark.

    Raises
    ------
    FileError
        If it is missing, too large, unreadable or not UTF-8.
    """
    try:
        size = path.stat().st_size
        data = path.read_bytes() if size <= MOST_BYTES else b""
    except OSError as problem:
        raise _unreadable(path, problem) from None
    if size > MOST_BYTES:
        raise FileError(
            f"The file has {size / 1e6:.1f} MB.",
            why=f"It is written by hand, so more than {MOST_BYTES / 1e6:g} MB is a mistake.",
            next_step="Check that it is the right file.",
            place=path.name,
        )
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = data.count(b"\n", 0, problem.start) + 1
        raise FileError(
            f"The byte {data[problem.start : problem.start + 1].hex()} is not UTF-8 text.",
            why="Read in another encoding, letters such as µ, ° or é would come out wrong.",
            next_step="Save the file as UTF-8 in your editor.",
            place=f"{path.name}, line {line}",
        ) from None


def parse_toml(text: str, *, name: str) -> TomlText:
    """Return the values of a TOML text; `name` is what messages call it.

    Raises
    ------
    FileError
        If the text is empty or breaks the rules of TOML 1.0.
    """
    if not text.strip():
        raise FileError(
            "The file is empty.",
            why="There is nothing to read.",
            next_step="Put back what was there, or start a new trial with `workbench new`.",
            place=name,
        )
    if text.count("\n") > MOST_LINES:
        raise FileError(
            f"The file has {text.count(chr(10)):,} lines.",
            why=f"It is written by hand, so more than {MOST_LINES:,} are a mistake.",
            next_step="Check that it is the right file.",
            place=name,
        )
    if _DOTTED.search(text):
        raise _too_deep(name, f"A key has more than {MOST_DOTS} dots.")
    try:
        return TomlText(name=name, text=text, values=tomllib.loads(text))
    except RecursionError:
        raise _too_deep(name, "Brackets are nested too deeply.") from None
    except ValueError as problem:  # the parser's own error and that of a number of 5000 digits
        raise _syntax_error(text, name, str(problem)) from None


def _too_deep(name: str, wrong: str) -> FileError:
    return FileError(
        wrong,
        why="No key of a trial holds lists within lists within lists.",
        next_step="Remove the extra brackets or dots.",
        place=name,
    )


def _unreadable(path: Path, problem: OSError) -> FileError:
    return FileError(
        f"{path.name} cannot be read: {problem.strerror or problem}.",
        why="Nothing is known of the trial without it.",
        next_step="Check the path and that you may read it.",
        place=str(path.parent),
    )


def _syntax_error(text: str, name: str, message: str) -> FileError:
    at = re.search(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)", message)
    lines = text.splitlines() or [""]
    number = int(at[1]) if at and at[1] else len(lines)
    line = lines[min(number, len(lines)) - 1].strip()[:LONGEST_SHOWN]
    said = message[: at.start()] if at else message
    return FileError(
        f"{line[:80]!r} cannot be read: {said.rstrip('.')}.",
        why="Every line of the file is a comment, [a section] or key = value.",
        next_step=_instead(line, said),
        place=f"{name}, line {number}",
    )


_PLAIN_SLIPS = (
    (r"=\s*[+-]?\d+[.,]?\d*\s*[^\W\d_]", "Write the number alone; the unit has a key of its own."),
    (r"[“”„‘’«»]", 'Write straight quotes: "text".'),
    (r"=\s*(True|TRUE|Yes|yes|YES|on)\b", "Write true, in small letters without quotes."),
    (r"=\s*(False|FALSE|No|no|NO|off)\b", "Write false, in small letters without quotes."),
    (r"=\s*(None|null|NA)?\s*(#.*)?$", "Write a value after the =, or remove the line."),
    (r"^[^=\"']*\w\s*:", "Write = between a key and its value."),
    (r"^[\w-]+\s+[\w\s-]+=", 'Write a key without blanks, or in quotes: "key with blanks" = ….'),
    (r"=\s*[^\W\d]", 'Put text in quotes: unit = "mm".'),
    (r"\\", r"Write a backslash twice, or put the text in single quotes: 'C:\parts'."),
)


def _instead(line: str, said: str) -> str:
    comma = re.search(r"=\s*([+-]?\d+),(\d+)\s*(?:#.*)?$", line)
    if comma:
        return f"Write a decimal point, not a comma: {comma[1]}.{comma[2]}."
    if "overwrite" in said:
        return "The key stands twice in its section: remove one of the two."
    if "declare" in said:
        return (
            "Write a section that may stand several times in double brackets, such as [[factor]]; "
            "put the keys of any other under one heading."
        )
    for slip, instead in _PLAIN_SLIPS:
        if re.search(slip, line):
            return instead
    return "Check its quotes, brackets and the = between key and value."
