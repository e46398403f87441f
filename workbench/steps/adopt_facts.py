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

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from workbench.files.raw_table import RawTable

NUMBERING_WORDS = (
    "run", "sample", "specimen", "no", "nr", "number", "id", "index", "order", "row",
    "test", "trial", "#", "standard", "sequence",
)  # fmt: skip
BLOCK_WORDS = (
    "block", "replicate", "replication", "rep", "batch", "lot", "day", "shift", "operator",
    "cavity", "heat", "board", "panel", "machine",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Facts:
    """A column (n,): its texts (empty where nothing stands) and numbers (NaN where nothing does).

    `number_share` is the share of cells that are numbers; `numbers` is None unless all are,
    each with one reading.
    """

    heading: str
    name: str
    unit: str
    texts: tuple[str, ...]
    number_share: float
    numbers: NDArray[np.float64] | None

    @property
    def n_filled(self) -> int:
        """Number of cells that say something."""
        return sum(bool(text) for text in self.texts)

    @property
    def n_distinct(self) -> int:
        """Number of different values."""
        if self.numbers is not None:
            return int(np.unique(self.numbers[np.isfinite(self.numbers)]).size)
        return len({text for text in self.texts if text})

    @property
    def words(self) -> set[str]:
        """Words of the heading, in small letters."""
        return set(re.findall(r"[^\W_]+|#", self.name.casefold()))


def facts_of(table: RawTable, heading: str) -> Facts:
    """Return what the column under a heading holds."""
    cells = table.column(heading)
    parts = taken_apart(unguarded(heading))
    texts = tuple(
        "" if is_not_measured(cell.text) else unguarded(cell.text.strip()) for cell in cells
    )
    share = share_of_numbers(cells)
    return Facts(
        heading=heading,
        name=parts.name,
        unit=parts.unit,
        texts=texts,
        number_share=share,
        numbers=_numbers(table, heading) if share == 1 else None,
    )


def _numbers(table: RawTable, heading: str) -> NDArray[np.float64] | None:
    try:
        column = number_column(table, heading, unit="")
    except FileError:  # a column that is never used may hold anything; one that is used is refused
        return None
    return np.array([np.nan if one is None else one.value for one in column.numbers])


def counts_up(facts: Facts) -> bool:
    """Whether the column holds each of 1 … n once, n rows of four or more."""
    n = len(facts.texts)
    return (
        n >= 4
        and facts.numbers is not None
        and np.array_equal(np.sort(facts.numbers), np.arange(1, n + 1))
    )


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
    if len(others) < 2 or facts.n_filled < len(facts.texts):
        return False
    combinations = list(zip(*(other.texts for other in others), strict=True))
    pairs = set(zip(facts.texts, combinations, strict=True))
    n = len(set(combinations))
    return (
        len(pairs) == n == facts.n_distinct
        and n > max(other.n_distinct for other in others)
        and (facts.numbers is None or is_whole_from_one(facts))
    )
