"""Text tables: which letters, which separator, which cells."""

from __future__ import annotations

import csv
import io
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.errors import FileError
from workbench.files.raw_table import Cell
from workbench.run.receipt import ReceiptLine

if TYPE_CHECKING:
    from collections.abc import Iterator

SEPARATORS = {"\t": "tab", ";": "semicolon", ",": "comma"}
LINES_TRIED = 200
MARKS_OF_ORDER = (
    (b"\xef\xbb\xbf", "utf-8-sig", "UTF-8"),
    (b"\xff\xfe", "utf-16", "UTF-16"),
    (b"\xfe\xff", "utf-16", "UTF-16"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """Cells row by row as they stand in a file, with what was assumed on reading them."""

    rows: tuple[tuple[Cell, ...], ...]
    lines: tuple[ReceiptLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Text:
    text: str
    lines: tuple[ReceiptLine, ...]


def text_grid(data: bytes, *, source: str) -> Grid:
    """Return the cells of a CSV, TSV or semicolon table.

    Raises
    ------
    FileError
        If the bytes are no text, or a quotation mark is never closed.
    """
    decoded = _decoded(data, source)
    separator, line = _separator(decoded.text, source)
    try:
        rows = list(_reader(decoded.text, separator, strict=True))
    except csv.Error as met:
        raise FileError(
            f"The table breaks off: {met}.",
            why="A quotation mark that is not closed swallows everything behind it.",
            next_step="Close or remove the quotation mark.",
            place=source,
        ) from None
    cells = tuple(tuple(Cell(text.strip()) for text in row) for row in rows)
    return Grid(rows=cells, lines=(*decoded.lines, line))


def _decoded(data: bytes, source: str) -> _Text:
    for mark, codec, name in MARKS_OF_ORDER:
        if data.startswith(mark):
            return _with_mark(data, codec, name=name, source=source)
    if b"\x00" in data:
        raise FileError(
            "The file is not text.",
            why="It holds zero bytes, as no text table does.",
            next_step="Save it as CSV (UTF-8), or as a workbook that ends in .xlsx.",
            place=source,
        )
    try:
        return _Text(text=data.decode("utf-8"), lines=())
    except UnicodeDecodeError:
        line = ReceiptLine(
            where=source,
            met="letters that are not UTF-8",
            understood="read as Western European (Latin-1)",
            sure=False,
        )
        return _Text(text=_western(data), lines=(line,))


def _with_mark(data: bytes, codec: str, *, name: str, source: str) -> _Text:
    try:
        text = data.decode(codec)
    except UnicodeDecodeError:
        raise FileError(
            f"The file begins like {name} but is not.",
            why="Its letters cannot be told.",
            next_step="Save it again as CSV (UTF-8).",
            place=source,
        ) from None
    line = ReceiptLine(
        where=source, met="a byte-order mark", understood=f"read as {name}, the mark left out"
    )
    return _Text(text=text.lstrip("\ufeff"), lines=(line,))


def _western(data: bytes) -> str:
    try:
        return data.decode("cp1252")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def _separator(text: str, source: str) -> tuple[str, ReceiptLine]:
    fitting = [mark for mark in SEPARATORS if _splits_evenly(text, mark)]
    chosen = fitting[0] if fitting else _most_in_heading(text)
    names = " or ".join(SEPARATORS[mark] for mark in fitting) or SEPARATORS[chosen]
    line = ReceiptLine(
        where=source,
        met=f"cells between {names}",
        understood=f"{SEPARATORS[chosen]} separates the cells",
        sure=len(fitting) == 1,
    )
    if len(next(iter(_reader(text, chosen)), [])) < 2 and not fitting:
        line = ReceiptLine(where=source, met="no separator", understood="one column")
    return chosen, line


def _splits_evenly(text: str, mark: str) -> bool:
    """Whether the mark gives every row the same number of cells, two or more."""
    counts: Counter[int] = Counter()
    for i, row in enumerate(_reader(text, mark)):
        if i >= LINES_TRIED:
            break
        if any(cell.strip() for cell in row):
            counts[len(row)] += 1
    return len(counts) == 1 and next(iter(counts)) > 1


def _most_in_heading(text: str) -> str:
    heading = next((line for line in text.splitlines() if line.strip()), "")
    return max(SEPARATORS, key=heading.count) if any(map(heading.count, SEPARATORS)) else ","


def _reader(text: str, separator: str, *, strict: bool = False) -> Iterator[list[str]]:
    return csv.reader(
        io.StringIO(text, newline=""), delimiter=separator, skipinitialspace=True, strict=strict
    )
