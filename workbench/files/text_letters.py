"""Bytes of a text table to letters: which encoding, and how sure."""

from __future__ import annotations

from dataclasses import dataclass

from workbench.errors import FileError
from workbench.run.receipt import ReceiptLine

MARKS_OF_ORDER = (
    (b"\xef\xbb\xbf", "utf-8-sig", "UTF-8"),
    (b"\xff\xfe", "utf-16", "UTF-16"),
    (b"\xfe\xff", "utf-16", "UTF-16"),
)
NAMES = {
    "utf-8": "UTF-8",
    "utf-16": "UTF-16",
    "utf-16-le": "UTF-16",
    "utf-16-be": "UTF-16",
    "cp1252": "Western European (Windows-1252)",
    "latin-1": "Western European (Latin-1)",
}
TRIED = 4_000  # bytes
# µ, °, ² and umlauts of UTF-8 that were once read as Western European and saved again.
TWICE = ("Âµ", "Â°", "Â²", "Â³", "Ã¤", "Ã¶", "Ã¼", "ÃŸ", "Ã©", "â€“")


@dataclass(frozen=True, slots=True, kw_only=True)
class Letters:
    """The text of a file, and what was assumed on telling its letters."""

    text: str
    lines: tuple[ReceiptLine, ...] = ()


def letters(data: bytes, *, source: str, encoding: str) -> Letters:
    """Return the text in bytes; an empty encoding is told from the bytes.

    Raises
    ------
    FileError
        If the bytes are no text, or not in the encoding that is said.
    """
    found = _said(data, encoding, source) if encoding else _told(data, source)
    garbled = next((pair for pair in TWICE if pair in found.text), None)
    if garbled is None:
        return found
    line = ReceiptLine(
        where=source,
        met=f"letters such as {garbled}",
        understood="kept as they stand; the file was saved in the wrong encoding before",
        sure=False,
    )
    return Letters(text=found.text, lines=(*found.lines, line))


def _said(data: bytes, encoding: str, source: str) -> Letters:
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError:
        raise FileError(
            f"The file is not written in {encoding}.",
            why="Its letters cannot be told.",
            next_step="Leave --encoding away, or name another.",
            place=source,
        ) from None
    line = ReceiptLine(where=source, met=f"--encoding {encoding}", understood="read so")
    return Letters(text=_without_zeros(text.lstrip("\ufeff"), source), lines=(line,))


def _told(data: bytes, source: str) -> Letters:
    for mark, codec, name in MARKS_OF_ORDER:
        if data.startswith(mark):
            met = "a byte-order mark"
            understood = f"read as {name}, the mark left out"
            return _decoded(data, codec, met=met, understood=understood, source=source)
    if b"\x00" in data[:TRIED]:
        codec = _without_mark(data[:TRIED], source)
        return _decoded(
            data,
            codec,
            met="two bytes for each letter, without a byte-order mark",
            understood="read as UTF-16",
            source=source,
        )
    try:
        return Letters(text=_without_zeros(data.decode("utf-8"), source))
    except UnicodeDecodeError:
        line = ReceiptLine(
            where=source,
            met="letters that are not UTF-8",
            understood="read as Western European (Latin-1)",
            sure=False,
        )
        return Letters(text=_without_zeros(_western(data), source), lines=(line,))


def _decoded(data: bytes, codec: str, *, met: str, understood: str, source: str) -> Letters:
    try:
        text = data.decode(codec)
    except UnicodeDecodeError:
        name = understood.removeprefix("read as ").partition(",")[0]
        raise FileError(
            f"The file begins like {name} but is not.",
            why="Its letters cannot be told.",
            next_step="Save it again as CSV (UTF-8).",
            place=source,
        ) from None
    line = ReceiptLine(where=source, met=met, understood=understood)
    return Letters(text=_without_zeros(text.lstrip("\ufeff"), source), lines=(line,))


def _without_mark(start: bytes, source: str) -> str:
    """Return which half of each pair of bytes is zero, as in UTF-16 of Western text."""
    pairs = max(len(start) // 2, 1)
    first, second = start[0::2].count(0) / pairs, start[1::2].count(0) / pairs
    if second > 0.6 and first < 0.1:
        return "utf-16-le"
    if first > 0.6 and second < 0.1:
        return "utf-16-be"
    raise _not_text(source)


def _without_zeros(text: str, source: str) -> str:
    if "\x00" in text:
        raise _not_text(source)
    return text


def _not_text(source: str) -> FileError:
    return FileError(
        "The file is not text.",
        why="It holds zero bytes, as no text table does.",
        next_step="Save it as CSV (UTF-8), or as a workbook that ends in .xlsx.",
        place=source,
    )


def _western(data: bytes) -> str:
    try:
        return data.decode("cp1252")
    except UnicodeDecodeError:
        return data.decode("latin-1")
