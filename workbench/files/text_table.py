"""Text tables: which separator, which cells."""

from __future__ import annotations

import contextlib
import csv
import io
from collections import Counter
from dataclasses import dataclass
from itertools import chain, islice
from typing import TYPE_CHECKING, NamedTuple

from workbench.errors import FileError
from workbench.files.grid import Grid
from workbench.files.limits import (
    CELLS_AT_MOST,
    COLUMNS_AT_MOST,
    LETTERS_AT_MOST,
    SHEET_ROWS_AT_MOST,
    too_long,
    too_many_cells,
    too_many_columns,
    too_many_rows,
)
from workbench.files.numbers import Decimal, looks_like_number
from workbench.files.read_options import AS_FOUND
from workbench.files.text_letters import letters
from workbench.run.receipt import ReceiptLine

if TYPE_CHECKING:
    from collections.abc import Iterator

    from workbench.files.read_options import ReadOptions

SEPARATORS = {"\t": "tab", ";": "semicolon", "|": "pipe", ",": "comma"}
BY_NAME = {name: mark for mark, name in SEPARATORS.items()}
BLANK = "blank"
LINES_TRIED = 200
HINT = "sep="


@dataclass(frozen=True, slots=True, kw_only=True)
class _Separator:
    mark: str
    line: ReceiptLine


def text_grid(data: bytes, *, source: str, options: ReadOptions = AS_FOUND) -> Grid:
    """Return the cells of a table with tabs, semicolons, pipes or commas between them.

    Raises
    ------
    FileError
        If the bytes are no text, a quotation mark is never closed, or a limit is broken.
    """
    decoded = letters(data, source=source, encoding=options.encoding)
    text = decoded.text.replace("\r\n", "\n").replace("\r", "\n")
    blanks = _in_blanks(text, options)
    text = blanks or text
    found = _by_blanks(source) if blanks else _separator(text, source, options)
    try:
        rows = _rows(_reader(text, found.mark, strict=True), source)
    except csv.Error as met:
        raise _breaks_off(met, text, source) from None
    _check_lengths(rows, source)
    if rows and _hinted(text):
        rows[0] = []
    return Grid(texts=rows, lines=(*decoded.lines, found.line))


def _rows(reader: Iterator[list[str]], source: str) -> list[list[str]]:
    """Return the rows up to the last that holds anything."""
    rows: list[list[str]] = []
    n_empty = n_cells = 0
    for row in reader:
        cells = [cell.strip() for cell in row]
        if not any(cells):
            n_empty += 1
            continue
        n_cells += len(cells)
        if n_cells > CELLS_AT_MOST or len(cells) > COLUMNS_AT_MOST:
            _refuse_size(cells, n_cells, source)
        if len(rows) + n_empty >= SHEET_ROWS_AT_MOST:
            raise too_many_rows(source)
        rows.extend([] for _ in range(n_empty))
        rows.append(cells)
        n_empty = 0
    return rows


def _refuse_size(cells: list[str], n_cells: int, source: str) -> None:
    if n_cells > CELLS_AT_MOST:
        raise too_many_cells(source)
    if any(cells[COLUMNS_AT_MOST:]):
        raise too_many_columns(source)


def _check_lengths(rows: list[list[str]], source: str) -> None:
    longest = max(map(len, chain.from_iterable(rows)), default=0)
    if longest > LETTERS_AT_MOST:
        raise too_long(longest, source)


def _breaks_off(met: csv.Error, text: str, source: str) -> FileError:
    if "field larger" in str(met):
        return too_long(len(text), source)
    return FileError(
        f"The table breaks off: {met}.",
        why="A quotation mark that is not closed swallows everything behind it.",
        next_step="Close or remove the quotation mark.",
        place=source,
    )


def _hinted(text: str) -> str:
    """Return the separator that a first line such as `sep=;` names, empty if there is none."""
    first = text[: len(HINT) + 2].partition("\n")[0]
    if not first.casefold().startswith(HINT):
        return ""
    mark = first[len(HINT) :]
    return mark if mark in SEPARATORS else ""


def _separator(text: str, source: str, options: ReadOptions) -> _Separator:
    said = BY_NAME.get(options.separator, "")
    hinted = _hinted(text)
    if said or hinted:
        met = f"--separator {options.separator}" if said else f"a first line {HINT}{hinted}"
        understood = f"{SEPARATORS[said or hinted]} separates the cells"
        line = ReceiptLine(where=source, met=met, understood=understood)
        return _Separator(mark=said or hinted, line=line)
    fitting = [mark for mark in SEPARATORS if _splits_evenly(text, mark)]
    chosen = _best(fitting, text, source) if fitting else _most_even(text)
    names = " or ".join(SEPARATORS[mark] for mark in fitting) or SEPARATORS[chosen]
    line = ReceiptLine(
        where=source,
        met=f"cells between {names}",
        understood=f"{SEPARATORS[chosen]} separates the cells",
        sure=len(fitting) == 1,
    )
    if not fitting and not any(chosen in row for row in text.splitlines()[:LINES_TRIED]):
        line = ReceiptLine(where=source, met="no separator", understood="one column")
    return _Separator(mark=chosen, line=line)


def _in_blanks(text: str, options: ReadOptions) -> str:
    """Return a table whose cells only blanks part, with tabs instead; empty if it is none.

    So it is where no other mark stands, blanks part every row into the same number of cells, and
    most cells below the first row are numbers; or where the user says so.
    """
    rows = [line.split() for line in text.splitlines()]
    if options.separator != BLANK:
        if options.separator or any(mark in text for mark in SEPARATORS):
            return ""
        filled = [row for row in rows if row]
        body = [cell for row in filled[1 : LINES_TRIED + 1] for cell in row]
        numbers = sum(looks_like_number(cell, Decimal.UNKNOWN) for cell in body)
        if len({len(row) for row in filled}) != 1 or 2 * numbers <= len(body):
            return ""
        if len(filled[0]) < 2:
            return ""
    return "\n".join("\t".join(row) for row in rows)


def _by_blanks(source: str) -> _Separator:
    line = ReceiptLine(
        where=source,
        met="cells with nothing but blanks between",
        understood="blanks separate the cells",
        sure=False,
    )
    return _Separator(mark="\t", line=line)


def _best(fitting: list[str], text: str, source: str) -> str:
    """Return the one mark between whose cells most are numbers."""
    if len(fitting) == 1:
        return fitting[0]
    shares = {mark: _number_share(text, mark) for mark in fitting}
    best = [mark for mark in fitting if shares[mark] == max(shares.values())]
    if len(best) == 1:
        return best[0]
    names = [SEPARATORS[mark] for mark in best]
    raise FileError(
        f"The cells may be separated by {' or by '.join(names)}.",
        why="Both give every row the same number of cells.",
        next_step=f"Say which: --separator {' or --separator '.join(names)}.",
        place=source,
    )


def _number_share(text: str, mark: str) -> float:
    rows = list(islice(_reader(text, mark), 1, LINES_TRIED))
    cells = [cell for row in rows for cell in row if cell.strip()]
    numbers = sum(looks_like_number(cell, Decimal.UNKNOWN) for cell in cells)
    return numbers / len(cells) if cells else 0.0


def _splits_evenly(text: str, mark: str) -> bool:
    """Whether the mark gives every row the same number of cells, two or more."""
    counts: Counter[int] = Counter()
    try:
        for row in islice(_reader(text, mark), LINES_TRIED):
            if any(cell.strip() for cell in row):
                counts[len(row)] += 1
    except csv.Error:
        return False
    return len(counts) == 1 and next(iter(counts)) > 1


def _most_even(text: str) -> str:
    """Return the mark that gives most rows the same number of cells, two or more."""
    best = max(SEPARATORS, key=lambda mark: _evenness(text, mark))
    return best if _evenness(text, best).n_rows else ","


class _Evenness(NamedTuple):
    """How many rows agree, and in how many cells: compared in this order."""

    n_rows: int
    n_cells: int


def _evenness(text: str, mark: str) -> _Evenness:
    counts: Counter[int] = Counter()
    with contextlib.suppress(csv.Error):
        counts.update(len(row) for row in islice(_reader(text, mark), LINES_TRIED) if len(row) > 1)
    return max((_Evenness(n, cells) for cells, n in counts.items()), default=_Evenness(0, 0))


def _reader(text: str, separator: str, *, strict: bool = False) -> Iterator[list[str]]:
    return csv.reader(
        io.StringIO(text, newline=""), delimiter=separator, skipinitialspace=True, strict=strict
    )
