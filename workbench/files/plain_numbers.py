"""The quick way for columns of plain numbers, as nearly all are; it reads what the long way reads.

A column is plain if each cell is empty or digits with at most a sign, one decimal mark (the same
in all cells) and a power of ten, or a number that the sheet holds as such.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, overload

import numpy as np

from workbench.files.numbers import CellNumber

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.files.raw_table import Cells

_NUMBER = r"(?:[-+]?[0-9]{1,30}(?:\.[0-9]{1,30})?(?:[eE][-+]?[0-9]{1,2})?)?+"
_COLUMN = re.compile(rf"{_NUMBER}(?:\n{_NUMBER})*+")
# A point that cannot group thousands: behind 0 or four digits, or not before exactly three.
_POINT_IS_DECIMAL = re.compile(
    r"^[-+]?(?:0[0-9]*|[0-9]{4,})\.|\.(?:[0-9]{1,2}|[0-9]{4,})(?:[eE]|$)", re.MULTILINE
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlainNumbers(Sequence[CellNumber | None]):
    """Numbers of a column (n,), NaN where nothing stands, with the texts of the cells."""

    values: NDArray[np.float64]
    texts: tuple[str, ...]

    def __post_init__(self) -> None:
        self.values.setflags(write=False)

    def __len__(self) -> int:
        return len(self.texts)

    @overload
    def __getitem__(self, at: int) -> CellNumber | None: ...
    @overload
    def __getitem__(self, at: slice) -> tuple[CellNumber | None, ...]: ...
    def __getitem__(self, at: int | slice) -> CellNumber | tuple[CellNumber | None, ...] | None:
        if isinstance(at, slice):
            return tuple(self[i] for i in range(*at.indices(len(self))))
        text = self.texts[at]
        if not text:
            return None
        return CellNumber(value=float(self.values[at]), mark=0, unit="", text=text)


def plain_numbers(cells: Cells, *, comma: bool = False) -> PlainNumbers | None:
    """Return the numbers of a plain column, None if the column is not plain.

    `comma` says that the decimal mark is a comma.
    """
    texts = cells.texts
    if cells.numbers is not None:
        return None if None in cells.numbers else _exact(texts, cells.numbers)
    if comma:
        if not is_plain_with_commas(texts):
            return None
        digits = "\n".join(texts).replace(",", ".").split("\n")
    elif is_plain_text(texts):
        digits = list(texts)
    else:
        return None
    values = np.array([float(text) if text else np.nan for text in digits])
    return PlainNumbers(values=values, texts=texts)


def _exact(texts: tuple[str, ...], numbers: tuple[float | None, ...]) -> PlainNumbers | None:
    if any(text[-1:] not in "0123456789" for text in texts):
        return None  # a unit or a percent sign stands behind the number
    return PlainNumbers(values=np.array(numbers, dtype=np.float64), texts=texts)


def is_plain_text(texts: Sequence[str]) -> bool:
    """Whether every text is empty or a plain number with at most a decimal point."""
    whole = "\n".join(texts)
    return whole.count("\n") == len(texts) - 1 and _COLUMN.fullmatch(whole) is not None


def is_plain_with_commas(texts: Sequence[str]) -> bool:
    """Whether every text is empty or a plain number, some with a comma, none with a point."""
    whole = "\n".join(texts)
    return (
        "," in whole
        and "." not in whole
        and whole.count("\n") == len(texts) - 1
        and _COLUMN.fullmatch(whole.replace(",", ".")) is not None
    )


def mark_has_two_readings(texts: Sequence[str]) -> bool:
    """Whether each mark in a plain column could group thousands, as in 1.234, and one stands."""
    whole = "\n".join(texts).replace(",", ".")
    return "." in whole and _POINT_IS_DECIMAL.search(whole) is None
