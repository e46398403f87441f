"""One act of import as one entry: what a table said of runs and of readings, in columns.

It says exactly what the same runs and readings say as single entries, one after the other, and
it is on the disk whole or not at all.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import compress
from typing import TYPE_CHECKING

import numpy as np

from workbench.numerics.distinct import distinct

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from workbench.files.entries import ReceiptEntry

NO_SETUP = -(2**62)  # no number of a setup is that low
RESET_UNSAID = -1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WordColumn:
    """What is said of runs in words (n,): `what` is the field of a run entry; "" says nothing."""

    what: str
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SettingColumn:
    """As-run settings of one factor (n,), where `said`; NaN or None where it is not known.

    `reasons` say why one stands instead of an earlier value, none at all if none replaces any.
    """

    factor: str
    unit: str
    said: NDArray[np.bool_]
    values: NDArray[np.float64] | tuple[str | None, ...]
    reasons: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        _lock(self.said, self.values)

    @property
    def known(self) -> list[float | str]:
        """What is said, where anything is known."""
        values = np.array(self.values, dtype=object)[self.said]
        is_known = [
            isinstance(one, str) or (one is not None and math.isfinite(one))
            for one in values.tolist()
        ]
        return list(compress(values.tolist(), is_known))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ResetColumn:
    """Answers (n,) to "was it reset?" for one factor: 1 yes, 0 no, −1 nobody said."""

    factor: str
    answers: NDArray[np.int64]

    def __post_init__(self) -> None:
        _lock(self.answers)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TableRuns:
    """What a table says of n different runs; `setup` is None if it says none."""

    run: NDArray[np.int64]
    words: tuple[WordColumn, ...] = ()
    setup: NDArray[np.int64] | None = None
    settings: tuple[SettingColumn, ...] = ()
    resets: tuple[ResetColumn, ...] = ()

    def __post_init__(self) -> None:
        _lock(self.run, self.setup)

    def __len__(self) -> int:
        return int(self.run.size)

    def said(self, what: str) -> tuple[str, ...]:
        """Return the words (n,) of one kind, none at all if there is no such column."""
        return next((one.words for one in self.words if one.what == what), ())

    def part(self, rows: NDArray[np.bool_]) -> TableRuns:
        """Return some of the runs, by a mask (n,)."""
        return TableRuns(
            run=self.run[rows],
            words=tuple(replace(one, words=_some(one.words, rows)) for one in self.words),
            setup=None if self.setup is None else self.setup[rows],
            settings=tuple(
                replace(
                    one,
                    said=one.said[rows],
                    values=one.values[rows]
                    if isinstance(one.values, np.ndarray)
                    else tuple(compress(one.values, rows.tolist())),
                    reasons=_some(one.reasons, rows),
                )
                for one in self.settings
            ),
            resets=tuple(replace(one, answers=one.answers[rows]) for one in self.resets),
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ReadingColumn:
    """Readings of one outcome (m,), where `said`; the fields are those of a reading entry."""

    outcome: str
    unit: str
    said: NDArray[np.bool_]
    values: NDArray[np.float64]
    marks: NDArray[np.int64]
    texts: tuple[str, ...]
    reasons: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        _lock(self.said, self.values, self.marks)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TableReadings:
    """Readings of a table: m different places (run, part, reading), a column an outcome."""

    run: NDArray[np.int64]
    part: NDArray[np.int64]
    reading: NDArray[np.int64]
    outcomes: tuple[ReadingColumn, ...] = ()

    def __post_init__(self) -> None:
        _lock(self.run, self.part, self.reading)

    def __len__(self) -> int:
        return int(self.run.size)

    @property
    def place(self) -> NDArray[np.int64]:
        """The places (m,) as one number each."""
        return packed(self.run, self.part, self.reading)

    def some(self, rows: NDArray[np.bool_]) -> TableReadings:
        """Return some of the places, by a mask (m,)."""
        return TableReadings(
            run=self.run[rows],
            part=self.part[rows],
            reading=self.reading[rows],
            outcomes=tuple(
                replace(
                    one,
                    said=one.said[rows],
                    values=one.values[rows],
                    marks=one.marks[rows],
                    texts=_some(one.texts, rows),
                    reasons=_some(one.reasons, rows),
                )
                for one in self.outcomes
            ),
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TableEntry:
    """A table that was taken in, whole: its runs, its readings, and its receipt.

    `settles` is that of all its entries. Of a table too long for one line of the journal the
    receipt stands in the last.
    """

    runs: TableRuns
    readings: TableReadings
    receipt: ReceiptEntry | None = None
    settles: bool = False

    @property
    def runs_named(self) -> NDArray[np.int64]:
        """Numbers of the runs of which anything is said, each once."""
        return distinct(np.concatenate([self.runs.run, self.readings.run]))

    def part(self, runs: NDArray[np.bool_], readings: NDArray[np.bool_]) -> TableEntry:
        """Return some of the runs and places, by masks, without the receipt."""
        return TableEntry(
            runs=self.runs if runs.all() else self.runs.part(runs),
            readings=self.readings if readings.all() else self.readings.some(readings),
            settles=self.settles,
        )

    def halves(self) -> tuple[TableEntry, ...]:
        """Return the table in two, the receipt with the second; only itself if it has one row."""
        n, m = len(self.runs), len(self.readings)
        if n + m < 2:
            return (self,)
        first = np.arange(n + m) < (n + m) // 2
        second = self.part(~first[:n], ~first[n:])
        return self.part(first[:n], first[n:]), replace(second, receipt=self.receipt)


_BITS = 21  # 2**21 is more than twice the highest number of a run, part or reading
_ZERO = 1 << (_BITS - 1)


def packed(
    run: NDArray[np.int64], part: NDArray[np.int64], reading: NDArray[np.int64]
) -> NDArray[np.int64]:
    """Return the places of readings as one number each, ordered by run, then part, reading."""
    place = (run + _ZERO) << (2 * _BITS)
    return place | (part + _ZERO) << _BITS | (reading + _ZERO)


def packed_one(run: int, part: int, reading: int) -> int:
    """Return the place of one reading as one number."""
    return (run + _ZERO) << (2 * _BITS) | (part + _ZERO) << _BITS | (reading + _ZERO)


def unpacked(place: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return places given as one number each as run, part and reading (m, 3)."""
    rest = (1 << _BITS) - 1
    parts = (place >> (2 * _BITS), place >> _BITS & rest, place & rest)
    return np.column_stack(parts) - _ZERO


def _some(texts: tuple[str, ...], rows: NDArray[np.bool_]) -> tuple[str, ...]:
    return tuple(compress(texts, rows.tolist()))


def _lock(*arrays: object) -> None:
    for one in _arrays(arrays):
        one.setflags(write=False)


def _arrays(found: Iterable[object]) -> Iterable[NDArray[np.generic]]:
    return (one for one in found if isinstance(one, np.ndarray))
