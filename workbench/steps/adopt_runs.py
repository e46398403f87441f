"""Rows of a table to runs, parts and readings: the levels of the structure."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import FileError
from workbench.run.receipt import ReceiptLine
from workbench.steps.adopt_facts import is_whole_from_one

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.files.raw_table import RawTable
    from workbench.steps.adopt_facts import Facts
    from workbench.steps.adopt_layout import Layout


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rows:
    """Where each row (n,) belongs: run, part and reading numbers, block label, setup number.

    `numbered` says whether the table itself numbers the runs.
    """

    run: NDArray[np.int64]
    part: NDArray[np.int64]
    reading: NDArray[np.int64]
    block: tuple[str, ...]
    setup: NDArray[np.int64] | None
    numbered: bool
    lines: tuple[ReceiptLine, ...]


def rows_of(table: RawTable, layout: Layout, values: NDArray[np.float64]) -> Rows:
    """Return the structure of the rows; `values` (n, k) are the settings of each row.

    Raises
    ------
    FileError
        If one run has two settings or blocks, or one reading stands twice.
    """
    n = len(table)
    block = tuple(" / ".join(facts.texts[i] for facts in layout.blocks) for i in range(n))
    setup = _numbered(layout.setup)
    part, reading = _counted(table, layout.part), _counted(table, layout.reading)
    key = _keys(values, block, setup)
    if layout.run is not None:
        run = np.array(layout.run.numbers, dtype=np.int64)
        lines: tuple[ReceiptLine, ...] = ()
    else:
        run, lines = _grouped(table, key, _Places(part, reading))
    if part is None and reading is None:
        part, more = _parts_in_order(table, run)
        lines = (*lines, *more)
    rows = Rows(
        run=run,
        part=np.ones(n, dtype=np.int64) if part is None else part,
        reading=np.ones(n, dtype=np.int64) if reading is None else reading,
        block=block,
        setup=setup,
        numbered=layout.run is not None,
        lines=lines,
    )
    _check_one_setting(table, rows, key)
    _check_once(table, rows)
    return rows


@dataclass(frozen=True, slots=True)
class _Places:
    part: NDArray[np.int64] | None
    reading: NDArray[np.int64] | None


def _numbered(facts: Facts | None) -> NDArray[np.int64] | None:
    if facts is None:
        return None
    labels = list(dict.fromkeys(facts.texts))
    return np.array([labels.index(text) + 1 for text in facts.texts], dtype=np.int64)


def _counted(table: RawTable, facts: Facts | None) -> NDArray[np.int64] | None:
    if facts is None:
        return None
    if is_whole_from_one(facts):
        return np.array(facts.numbers, dtype=np.int64)
    if facts.number_share > 0 or not all(facts.texts):
        raise FileError(
            "The column does not hold whole numbers from 1 up.",
            why="Parts and readings are counted within their run.",
            next_step="Number them, or name each by a word.",
            place=table.column_place(facts.heading),
        )
    return _numbered(facts)


def _keys(
    values: NDArray[np.float64], block: tuple[str, ...], setup: NDArray[np.int64] | None
) -> list[str]:
    return [
        f"{values[i].tolist()!r}|{block[i]}|{'' if setup is None else setup[i]}"
        for i in range(len(block))
    ]


def _grouped(
    table: RawTable, key: list[str], places: _Places
) -> tuple[NDArray[np.int64], tuple[ReceiptLine, ...]]:
    n = len(key)
    if places.part is None and places.reading is None:
        line = ReceiptLine(
            where=table.source,
            met="no column of run numbers",
            understood=f"each of {n} rows is a run of its own, numbered by its place",
            sure=False,
        )
        return np.arange(1, n + 1), (line,)
    part = np.ones(n, dtype=np.int64) if places.part is None else places.part
    reading = np.ones(n, dtype=np.int64) if places.reading is None else places.reading
    run = np.zeros(n, dtype=np.int64)
    current, seen, last = 0, set[tuple[int, int]](), ""
    for i in range(n):
        place = (int(part[i]), int(reading[i]))
        if key[i] != last or place in seen:
            current, seen, last = current + 1, set(), key[i]
        seen.add(place)
        run[i] = current
    line = ReceiptLine(
        where=table.source,
        met="no column of run numbers",
        understood="rows of the same settings that follow one another are one run: "
        f"{current} runs",
        sure=False,
    )
    return run, (line,)


def _parts_in_order(
    table: RawTable, run: NDArray[np.int64]
) -> tuple[NDArray[np.int64], tuple[ReceiptLine, ...]]:
    seen: Counter[int] = Counter()
    part = np.zeros(run.size, dtype=np.int64)
    for i, one in enumerate(run.tolist()):
        seen[one] += 1
        part[i] = seen[one]
    if part.max() == 1:
        return part, ()
    line = ReceiptLine(
        where=table.source,
        met=f"up to {part.max()} rows of one run number",
        understood="parts made in that run, one reading each",
        sure=False,
    )
    return part, (line,)


def _check_one_setting(table: RawTable, rows: Rows, key: list[str]) -> None:
    first: dict[int, int] = {}
    for i, run in enumerate(rows.run.tolist()):
        if key[i] != key[first.setdefault(run, i)]:
            raise FileError(
                f"Run {run} has other settings here than in row {table.rows[first[run]].number}.",
                why="A run is one setting of everything; another setting is another run.",
                next_step="Correct the setting or the run number.",
                place=f"{table.source}, row {table.rows[i].number}",
            )


def _check_once(table: RawTable, rows: Rows) -> None:
    first: dict[tuple[int, int, int], int] = {}
    places = zip(rows.run.tolist(), rows.part.tolist(), rows.reading.tolist(), strict=True)
    for i, place in enumerate(places):
        if first.setdefault(place, i) != i:
            run, part, reading = place
            raise FileError(
                f"Run {run}, part {part}, reading {reading} stands here and in row "
                f"{table.rows[first[place]].number}.",
                why="One reading has one value.",
                next_step="Number parts and readings within their run.",
                place=f"{table.source}, row {table.rows[i].number}",
            )
