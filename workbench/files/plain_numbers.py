"""The quick way for columns of plain numbers, as nearly all are; it reads what the long way reads.

A column is plain if each cell is empty or digits with at most a sign and one decimal point, or a
number that the sheet holds as such.
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

_NUMBER = r"(?:[-+]?[0-9]{1,300}(?:\.[0-9]{1,300})?)?+"
_COLUMN = re.compile(rf"{_NUMBER}(?:\n{_NUMBER})*+")
# A point that cannot group thousands: behind 0 or four digits, or not before exactly three.
_POINT_IS_DECIMAL = re.compile(
    r"^[-+]?(?:0[0-9]*|[0-9]{4,})\.|\.(?:[0-9]{1,2}|[0-9]{4,})$", re.MULTILINE
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
    def __getitem__(self, at: int | slice) -> CellNumber | None | tuple[CellNumber | None, ...]:
        if isinstance(at, slice):
            return tuple(self[i] for i in range(*at.indices(len(self))))
        text = self.texts[at]
        if not text:
            return None
        return CellNumber(value=float(self.values[at]), mark=0, unit="", text=text)


def plain_numbers(cells: Cells) -> PlainNumbers | None:
    """Return the numbers of a plain column, None if the column is not plain."""
    texts = cells.texts
    if cells.numbers is not None and None not in cells.numbers:
        if any(text[-1:] not in "0123456789" for text in texts):
            return None  # a unit or a percent sign stands behind the number
        return PlainNumbers(values=np.array(cells.numbers, dtype=np.float64), texts=texts)
    if not is_plain_text(texts):
        return None
    values = np.array([float(text) if text else np.nan for text in texts])
    return PlainNumbers(values=values, texts=texts) if np.isfinite(values).any() else None


def is_plain_text(texts: Sequence[str]) -> bool:
    """Whether every text is empty or a plain number."""
    whole = "\n".join(texts)
    return whole.count("\n") == len(texts) - 1 and _COLUMN.fullmatch(whole) is not None


def point_has_two_readings(texts: Sequence[str]) -> bool:
    """Whether each point in a plain column could group thousands, as in 1.234, and one stands."""
    whole = "\n".join(texts)
    return "." in whole and _POINT_IS_DECIMAL.search(whole) is None
