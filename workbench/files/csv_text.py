"""CSV text that spreadsheet programs open as meant and never run as a formula."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

from workbench.files.headings import guarded

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

BYTE_ORDER_MARK = "\ufeff"


def csv_text(headings: Sequence[str], rows: Iterable[Sequence[float | str]]) -> str:
    """Return a CSV table; text that a spreadsheet program would run is guarded by an apostrophe.

    It begins with a byte-order mark, without which some of them garble µ, ³ and °. Numbers are
    written with a decimal point and as few digits as give the same number again.
    """
    return _text(headings, ([cell_text(one) for one in row] for row in rows))


def csv_columns(headings: Sequence[str], columns: Sequence[Sequence[float | str]]) -> str:
    """Return the CSV table as `csv_text` does, from its columns: each different cell once."""
    texts = []
    for column in columns:
        text_of = {cell: cell_text(cell) for cell in set(column)}
        texts.append([text_of[cell] for cell in column])
    return _text(headings, zip(*texts, strict=True))


def cell_text(value: float | str) -> str:
    """Return a cell: text guarded, a number with as few digits as give the same number again.

    >>> cell_text(-0.5), cell_text("-0.5 or so"), cell_text(12.0)
    ('-0.5', "'-0.5 or so", '12')
    """
    if isinstance(value, str):
        return guarded(value)
    return repr(int(value)) if float(value).is_integer() and abs(value) < 1e15 else repr(value)


def _text(headings: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow([guarded(one) for one in headings])
    writer.writerows(rows)
    return BYTE_ORDER_MARK + stream.getvalue()
