"""Rows of a table to runs, parts and readings: the levels of the structure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import FileError, OptionError
from workbench.run.receipt import ReceiptLine
from workbench.steps.adopt_facts import is_whole_from_one
from workbench.steps.adopt_nesting import by_first_appearance, codes_of, joint_codes, stretches
from workbench.steps.adopt_options import REPEATS
from workbench.steps.adopt_setups import setups_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from workbench.files.raw_table import RawTable
    from workbench.steps.adopt_facts import Facts
    from workbench.steps.adopt_layout import Layout
    from workbench.steps.adopt_nouns import FactorColumn

FRESH = "each taken as set anew, a run of its own (a replicate)"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rows:
    """Where each row (n,) belongs: run, part and reading numbers, block label, setup number.

    `slow` names the factors that stay the same within every setup.
    """

    run: NDArray[np.int64]
    part: NDArray[np.int64]
    reading: NDArray[np.int64]
    block: tuple[str, ...]
    setup: NDArray[np.int64] | None
    slow: frozenset[str]
    lines: tuple[ReceiptLine, ...]


@dataclass(frozen=True, slots=True)
class _Levels:
    """Numbers (n,) of one level of the structure, None where nobody says them, and lines."""

    run: NDArray[np.int64]
    part: NDArray[np.int64] | None
    reading: NDArray[np.int64] | None
    lines: tuple[ReceiptLine, ...]


def settings_codes(columns: Sequence[FactorColumn], n: int) -> NDArray[np.int64]:
    """Return a number (n,) for each combination of settings; one not recorded is its own."""
    codes = [np.unique(column.values, return_inverse=True)[1] for column in columns]
    return joint_codes([one.astype(np.int64) for one in codes], n)


def rows_of(
    table: RawTable, layout: Layout, columns: Sequence[FactorColumn], *, repeats: str
) -> Rows:
    """Return the structure of the rows; `repeats` says what neighbours of one setting are.

    Raises
    ------
    FileError, OptionError
        If one run has two settings or blocks, one reading stands twice, setup labels have two
        readings, or `repeats` is unknown or contradicts a column.
    """
    _check_repeats(repeats, layout)
    n = len(table)
    block = tuple(
        " / ".join(parts) for parts in zip(*(f.texts for f in layout.blocks), strict=True)
    )
    block = block or ("",) * n
    setups = setups_of(table, layout, columns)
    settings = settings_codes(columns, n)
    known = [settings, codes_of(block), *([] if setups is None else [setups.number])]
    key = joint_codes(known, n)
    levels = _levels(table, layout, key, repeats=repeats)
    one = np.ones(n, dtype=np.int64)
    rows = Rows(
        run=levels.run,
        part=one if levels.part is None else levels.part,
        reading=one if levels.reading is None else levels.reading,
        block=block,
        setup=None if setups is None else setups.number,
        slow=frozenset() if setups is None else setups.slow,
        lines=(*(setups.lines if setups else ()), *levels.lines),
    )
    _check_one_setting(table, rows, key)
    _check_once(table, rows)
    return rows


def _check_repeats(repeats: str, layout: Layout) -> None:
    if repeats and repeats not in REPEATS:
        raise OptionError(
            f"repeats is {repeats!r}.",
            why="It says what rows of the same settings are that follow one another.",
            next_step=f"Use one of: {', '.join(REPEATS)}.",
            place=f"--repeats {repeats}",
        )
    stated = next((f for f in (layout.run, layout.part, layout.reading) if f is not None), None)
    if repeats and stated is not None:
        raise OptionError(
            f"The column {stated.name!r} says already which rows belong together.",
            why="--repeats is for tables that do not say it.",
            next_step="Leave --repeats away.",
            place=f"--repeats {repeats}",
        )


def _levels(table: RawTable, layout: Layout, key: NDArray[np.int64], *, repeats: str) -> _Levels:
    part, reading = _counted(table, layout.part), _counted(table, layout.reading)
    if layout.run is not None:
        run, lines = _named_runs(table, layout.run, layout.blocks, key=key)
    elif part is None and reading is None and repeats in ("", "runs"):
        return _rows_as_runs(table, key, is_stated=bool(repeats))
    else:
        run, lines = _grouped(table, key, part=part, reading=reading)
    if part is None and reading is None:
        counted, more = _counted_in_order(table, run, repeats=repeats)
        part = counted if repeats != "readings" else None
        reading = counted if repeats == "readings" else None
        lines = (*lines, *more)
    return _Levels(run, part, reading, lines)


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
    return codes_of(facts.texts) + 1


def _named_runs(
    table: RawTable, facts: Facts, blocks: Sequence[Facts], *, key: NDArray[np.int64]
) -> tuple[NDArray[np.int64], tuple[ReceiptLine, ...]]:
    """Return runs by a column of numbers, or of labels that count within block or settings."""
    if not all(facts.texts):
        raise FileError(
            "A run has no number.",
            why="A row belongs to its run by that number.",
            next_step="Fill it in.",
            place=table.place(facts.texts.index(""), facts.heading),
        )
    is_numbered = is_whole_from_one(facts)
    labels = codes_of(facts.texts)
    within = joint_codes([labels, key], len(key))
    is_one_each = int(within.max()) == int(labels.max())
    if is_numbered and (is_one_each or not blocks):
        return np.array(facts.numbers, dtype=np.int64), ()
    if is_numbered:
        return _numbered_in_blocks(table, facts, blocks)
    order = by_first_appearance(within)
    line = ReceiptLine(
        where=table.column_place(facts.heading),
        met=f"{int(labels.max()) + 1} labels"
        + ("" if is_one_each else ", which come again at other settings"),
        understood=f"{int(order.max()) + 1} runs, numbered as they first appear"
        + ("" if is_one_each else "; a label at other settings is another run"),
        sure=is_one_each,
    )
    return order + 1, (line,)


def _numbered_in_blocks(
    table: RawTable, facts: Facts, blocks: Sequence[Facts]
) -> tuple[NDArray[np.int64], tuple[ReceiptLine, ...]]:
    n = len(table)
    block = joint_codes([codes_of(one.texts) for one in blocks], n)
    first = by_first_appearance(block)
    numbers = np.asarray(facts.numbers, dtype=np.int64)
    _, run = np.unique(np.column_stack([first, numbers]), axis=0, return_inverse=True)
    line = ReceiptLine(
        where=table.column_place(facts.heading),
        met=f"numbers 1 to {numbers.max()} that come again in each block",
        understood=f"the order within the block; runs are numbered 1 to {int(run.max()) + 1}, "
        "block after block",
        sure=False,
    )
    return run.reshape(-1).astype(np.int64) + 1, (line,)


def _rows_as_runs(table: RawTable, key: NDArray[np.int64], *, is_stated: bool) -> _Levels:
    n = len(key)
    lines = [
        ReceiptLine(
            where=table.source,
            met="no column of run numbers",
            understood=f"each of {n} rows is a run of its own, numbered by its place",
            sure=is_stated,
        )
    ]
    same = int((key[1:] == key[:-1]).sum())
    if same:
        lines.append(
            ReceiptLine(
                where=table.source,
                met=f"{same} of {n} rows share every setting with the row before",
                understood=FRESH
                + ("" if is_stated else "; if they are parts of one run: --repeats parts"),
                sure=is_stated,
            )
        )
    return _Levels(np.arange(1, n + 1), None, None, tuple(lines))


def _grouped(
    table: RawTable,
    key: NDArray[np.int64],
    *,
    part: NDArray[np.int64] | None,
    reading: NDArray[np.int64] | None,
) -> tuple[NDArray[np.int64], tuple[ReceiptLine, ...]]:
    """Return runs as stretches of equal settings; a place that comes again begins a new run."""
    one = np.ones(len(key), dtype=np.int64)
    is_placed = part is not None or reading is not None
    places = list(
        zip(
            stretches(key).tolist(),
            (one if part is None else part).tolist(),
            (one if reading is None else reading).tolist(),
            strict=True,
        )
    )
    run = np.zeros(len(key), dtype=np.int64)
    current, seen, last = 0, set[tuple[int, int, int]](), -1
    for i, place in enumerate(places):
        if place[0] != last or (is_placed and place in seen):
            current, seen, last = current + 1, set(), place[0]
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


def _counted_in_order(
    table: RawTable, run: NDArray[np.int64], *, repeats: str
) -> tuple[NDArray[np.int64], tuple[ReceiptLine, ...]]:
    order = np.argsort(run, kind="stable")
    starts = np.concatenate([[True], run[order][1:] != run[order][:-1]])
    first = np.maximum.accumulate(np.where(starts, np.arange(run.size), 0))
    counted = np.empty(run.size, dtype=np.int64)
    counted[order] = np.arange(run.size) - first + 1
    if counted.max() == 1:
        return counted, ()
    what = "readings of one part" if repeats == "readings" else "parts made in that run"
    line = ReceiptLine(
        where=table.source,
        met=f"up to {counted.max()} rows of one run",
        understood=f"{what}, numbered in their order"
        + ("" if repeats else "; --part or --reading names a column that numbers them"),
        sure=bool(repeats),
    )
    return counted, (line,)


def _check_one_setting(table: RawTable, rows: Rows, key: NDArray[np.int64]) -> None:
    _, first, run = np.unique(rows.run, return_index=True, return_inverse=True)
    other = np.flatnonzero(key != key[first][run.reshape(-1)])
    if other.size:
        i = int(other[0])
        number = table.rows[int(first[run.reshape(-1)[i]])].number
        raise FileError(
            f"Run {rows.run[i]} has other settings here than in row {number}.",
            why="A run is one setting of everything; another setting is another run.",
            next_step="Correct the setting or the run number.",
            place=f"{table.source}, row {table.rows[i].number}",
        )


def _check_once(table: RawTable, rows: Rows) -> None:
    places = np.column_stack([rows.run, rows.part, rows.reading])
    _, first, again = np.unique(places, axis=0, return_index=True, return_inverse=True)
    twice = np.flatnonzero(first[again.reshape(-1)] != np.arange(len(places)))
    if twice.size:
        i = int(twice[0])
        run, part, reading = places[i].tolist()
        number = table.rows[int(first[again.reshape(-1)[i]])].number
        raise FileError(
            f"Run {run}, part {part}, reading {reading} stands here and in row {number}.",
            why="One reading has one value.",
            next_step="Number parts and readings within their run.",
            place=f"{table.source}, row {table.rows[i].number}",
        )
