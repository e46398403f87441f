"""What a column of a table holds, before anybody says what it means."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import FileError
from workbench.files.headings import heading as taken_apart
from workbench.files.headings import unguarded
from workbench.files.number_columns import number_column, share_of_numbers
from workbench.files.numbers import is_not_measured
from workbench.files.plain_numbers import PlainNumbers
from workbench.numerics.distinct import distinct

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from workbench.files.number_columns import NumberColumn
    from workbench.files.numbers import CellNumber
    from workbench.files.raw_table import RawTable

NUMBERING_WORDS = (
    "run", "sample", "specimen", "no", "nr", "number", "id", "index", "order", "row",
    "test", "trial", "#", "standard", "sequence",
)  # fmt: skip
BLOCK_WORDS = (
    "block", "replicate", "replication", "rep", "batch", "lot", "day", "shift", "operator",
    "cavity", "heat", "board", "panel", "machine", "week", "charge", "fixture", "tray",
)  # fmt: skip
PART_WORDS = (
    "part", "piece", "specimen", "position", "determination", "measurement", "repeat",
    "repetition", "reading", "subsample", "coupon", "sample",
)  # fmt: skip
SERIAL_WORDS = ("serial", "sn", "id", "barcode", "no", "nr", "number", "specimen", "sample")
TIME_WORDS = ("date", "time", "when", "made", "tested", "datum", "timestamp", "day")
REMARK_WORDS = ("remark", "remarks", "comment", "comments", "note", "notes", "observations")
POINT_WORDS = (
    "center", "centre", "axial", "factorial", "corner", "star", "cube", "edge", "face",
    "centre point", "center point", "axial point", "vertex", "centroid", "check",
)  # fmt: skip
_DATE = re.compile(
    r"(\d{4}[-/.]\d{1,2}[-/.]\d{1,2}|\d{1,2}[-/.]\d{1,2}[-/.](\d{4}|\d{2}))"
    r"([ T]\d{1,2}:\d{2}(:\d{2})?)?"
    r"|\d{1,2}:\d{2}(:\d{2})?"
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Facts:
    """A column (n,): its texts (empty where nothing stands) and numbers (NaN where nothing does).

    `number_share` is the share of cells that are numbers; `numbers` is None unless all are,
    each with one reading. `n_filled` cells say something, `n_distinct` different things; `words`
    are those of the heading in small letters.
    """

    heading: str
    name: str
    unit: str
    texts: tuple[str, ...]
    number_share: float
    numbers: NDArray[np.float64] | None
    n_filled: int
    n_distinct: int
    words: frozenset[str]


def facts_of(table: RawTable, heading: str) -> Facts:
    """Return what the column under a heading holds."""
    cells = table.column(heading)
    parts = taken_apart(unguarded(heading))
    share = share_of_numbers(cells)
    column = _number_column(table, heading) if share == 1 else None
    numbers = None if column is None else values_of(column.numbers)
    texts = cells.texts
    if column is None or not isinstance(column.numbers, PlainNumbers):
        said = {text: _said(text) for text in set(texts)}
        texts = tuple(map(said.__getitem__, texts))
    n_distinct = (
        len(set(texts) - {""})
        if numbers is None
        else int(distinct(numbers[np.isfinite(numbers)]).size)
    )
    return Facts(
        heading=heading,
        name=parts.name,
        unit=parts.unit,
        texts=texts,
        number_share=share,
        numbers=numbers,
        n_filled=sum(map(bool, texts)),
        n_distinct=n_distinct,
        words=frozenset(re.findall(r"[^\W_]+|#", parts.name.casefold())),
    )


def _said(text: str) -> str:
    return "" if is_not_measured(text) else unguarded(text.strip())


def _number_column(table: RawTable, heading: str) -> NumberColumn | None:
    try:
        return number_column(table, heading, unit="")
    except FileError:  # a column that is never used may hold anything; one that is used is refused
        return None


def values_of(numbers: Sequence[CellNumber | None]) -> NDArray[np.float64]:
    """Return the values (n,) of a column of numbers, NaN where nothing stands."""
    if isinstance(numbers, PlainNumbers):
        return numbers.values
    return np.array([np.nan if one is None else one.value for one in numbers])


def counts_up(facts: Facts) -> bool:
    """Whether the column holds each of 1 … n once, n rows of four or more."""
    n = len(facts.texts)
    return (
        n >= 4
        and facts.numbers is not None
        and np.array_equal(np.sort(facts.numbers), np.arange(1, n + 1))
    )


def counts_things(facts: Facts) -> bool:
    """Whether the column holds each of 1 … m, m of three or more, and nothing else: labels."""
    numbers = facts.numbers
    if numbers is None or facts.unit or facts.n_distinct < 3:
        return False
    found = distinct(numbers[np.isfinite(numbers)])
    return np.array_equal(found, np.arange(1, found.size + 1))


def are_counts(facts: Facts) -> bool:
    """Whether all numbers are whole, from 0 up."""
    numbers = facts.numbers
    if numbers is None:
        return False
    known = numbers[np.isfinite(numbers)]
    return bool((known >= 0).all() and (known == np.floor(known)).all())


def holds_dates(facts: Facts) -> bool:
    """Whether every cell that says something is a date or a time of day."""
    return facts.n_filled > 0 and all(_DATE.fullmatch(text) for text in facts.texts if text)


def is_whole_from_one(facts: Facts) -> bool:
    """Whether every cell is a whole number from 1 up."""
    numbers = facts.numbers
    return numbers is not None and bool(np.all((numbers >= 1) & (numbers == np.floor(numbers))))


def coded_form_of(facts: Facts, others: Sequence[Facts]) -> Facts | None:
    """Return the column of which this is −1, 0, +1 for low, middle, high; None if of none.

    Cells left blank are no objection; both ends must stand in it.
    """
    codes = facts.numbers
    if codes is None or not np.isin(codes[np.isfinite(codes)], (-1.0, 0.0, 1.0)).all():
        return None
    if not {-1.0, 1.0} <= set(codes[np.isfinite(codes)].tolist()):
        return None
    for other in others:
        if other.numbers is None or other.heading == facts.heading or _is_coded(other):
            continue
        both = np.isfinite(codes) & np.isfinite(other.numbers)
        low, high = np.nanmin(other.numbers), np.nanmax(other.numbers)
        if low < high and both.any():
            place = (other.numbers[both] - (low + high) / 2) / ((high - low) / 2)
            if np.array_equal(np.round(place), codes[both]):
                return other
    return None


def _is_coded(facts: Facts) -> bool:
    numbers = facts.numbers
    if numbers is None:
        return False
    return bool(np.isin(numbers[np.isfinite(numbers)], (-1.0, 0.0, 1.0)).all())


def labels_combinations(facts: Facts, others: Sequence[Facts]) -> bool:
    """Whether the column does no more than number the combinations of two or more others."""
    largest = max((other.n_distinct for other in others), default=0)
    if len(others) < 2 or facts.n_filled < len(facts.texts) or facts.n_distinct <= largest:
        return False
    combinations = list(zip(*(other.texts for other in others), strict=True))
    pairs = set(zip(facts.texts, combinations, strict=True))
    n = len(set(combinations))
    return len(pairs) == n == facts.n_distinct and (
        facts.numbers is None or is_whole_from_one(facts)
    )
