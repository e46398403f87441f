"""The statements of a valid TOML text as they stand: which line, which key, where the value is."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, field
from functools import lru_cache

KeyPath = tuple[str | int, ...]  # names, and the place of a table among those of one name

_KEY = r"""(?:[A-Za-z0-9_-]+|"(?:\\.|[^"\\])*"|'[^']*')"""
_DOTTED = rf"{_KEY}(?:\s*\.\s*{_KEY})*"
_BARE = re.compile(r"[A-Za-z0-9_-]+(?:\.[A-Za-z0-9_-]+)*")
_HEADER = re.compile(rf"\s*(\[\[?)\s*({_DOTTED})\s*\]")
_PAIR = re.compile(rf"\s*({_DOTTED})\s*=\s*")
_PIECE = re.compile(
    r'"""(?:\\.|[^\\])*?"""(?!")'
    r"|'''.*?'''(?!')"
    r'|"(?:\\.|[^"\\\n])*"'
    r"|'[^'\n]*'"
    r"|\#[^\n]*|[\[\]{}]|\n",
    re.DOTALL,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """A heading, a pair, or a line that is neither, with its line end.

    `names` are the dotted parts of its key, `brackets` is "[" or "[[" for a heading, and the
    value of a pair stands from `value_from` up to `value_to`.
    """

    line: int
    text: str
    brackets: str = ""
    names: tuple[str, ...] = ()
    value_from: int = 0
    value_to: int = 0

    @property
    def is_pair(self) -> bool:
        """Whether it sets a key."""
        return bool(self.names) and not self.brackets

    @property
    def is_comment(self) -> bool:
        """Whether it holds nothing but a comment."""
        return self.text.lstrip().startswith("#")


def statements(text: str) -> tuple[Statement, ...]:
    """Return the statements of a valid TOML text with plain line ends, one after the other."""
    whole = text if text.endswith("\n") else text + "\n"
    found = []
    start, line, depth, end = 0, 1, 0, None
    for piece in _PIECE.finditer(whole):
        depth += (piece[0] in "[{") - (piece[0] in "]}")
        if piece[0].startswith("#") and depth == 0:
            end = piece.start()
        if piece[0] != "\n" or depth > 0:
            continue
        words = whole[start : piece.end()]
        found.append(_statement(words, line, len(words) if end is None else end - start))
        line += words.count("\n")
        start, end = piece.end(), None
    return tuple(found)


def line_of(text: str, path: KeyPath) -> int | None:
    """Return the line (from 1) of a key, or of the nearest table around it; None if neither is."""
    lines = _index_of(text).lines
    for length in range(len(path), 0, -1):
        if path[:length] in lines:
            return lines[path[:length]]
    return None


@lru_cache(maxsize=4)  # a file with many mistakes is asked for the line of each
def _index_of(text: str) -> _Index:
    index = _Index()
    for one in statements(text.replace("\r\n", "\n")):
        if one.brackets:
            index.enter(one.names, one.line, is_repeated=one.brackets == "[[")
        elif one.names:
            index.note(one.names, one.line)
    return index


@dataclass(slots=True)
class _Index:
    lines: dict[KeyPath, int] = field(default_factory=dict)
    counts: dict[KeyPath, int] = field(default_factory=dict)
    section: KeyPath = ()

    def enter(self, names: tuple[str, ...], line: int, *, is_repeated: bool) -> None:
        path: KeyPath = ()
        for name in names[:-1]:
            path = (*path, name)
            if path in self.counts:
                path = (*path, self.counts[path] - 1)
        path = (*path, names[-1])
        if is_repeated:
            place = self.counts.get(path, 0)
            self.counts[path] = place + 1
            self.lines.setdefault(path, line)
            path = (*path, place)
        self.section = path
        self.lines.setdefault(path, line)

    def note(self, names: tuple[str, ...], line: int) -> None:
        for length in range(1, len(names) + 1):
            self.lines.setdefault((*self.section, *names[:length]), line)


def _statement(text: str, line: int, end: int) -> Statement:
    header = _HEADER.match(text)
    if header:
        return Statement(line=line, text=text, brackets=header[1], names=_names(header[2]))
    pair = _PAIR.match(text)
    if pair is None:
        return Statement(line=line, text=text)
    return Statement(
        line=line,
        text=text,
        names=_names(pair[1]),
        value_from=pair.end(),
        value_to=len(text[:end].rstrip()),
    )


def _names(dotted: str) -> tuple[str, ...]:
    if _BARE.fullmatch(dotted):
        return tuple(dotted.split("."))
    names: list[str] = []
    inner: object = tomllib.loads(f"{dotted} = 0")
    while isinstance(inner, dict):
        ((name, inner),) = inner.items()
        names.append(name)
    return tuple(names)
