"""What is new in a long table, as one entry of the journal: the same as its single entries say."""

from __future__ import annotations

from itertools import chain
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical
from workbench.files.held import reset_of
from workbench.files.reset_words import YES
from workbench.files.table_entry import (
    NO_SETUP,
    RESET_UNSAID,
    ReadingColumn,
    ResetColumn,
    SettingColumn,
    TableEntry,
    TableReadings,
    TableRuns,
    WordColumn,
)
from workbench.steps.take_moments import MADE

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.steps.take_cells import Read
    from workbench.steps.take_compare import Comparison
    from workbench.steps.take_moments import Said

FIELDS = {
    "block": "block",
    "status": "status",
    "reason": "reason",
    "note": "note",
    MADE: "made_at",
}


def new_table(
    of_runs: Sequence[Said],
    settings: Sequence[Said],
    readings: Sequence[Read],
    *,
    comparison: Comparison,
) -> TableEntry:
    """Return what is new of runs, as-run settings and readings as one entry, without a receipt."""
    runs = sorted({one.run for one in chain(of_runs, settings)})
    row_of = {run: row for row, run in enumerate(runs)}
    said: dict[str, list[Said]] = {}
    for one in of_runs:
        said.setdefault(one.what, []).append(one)
    set_in: dict[str, list[Said]] = {}
    for one in settings:
        set_in.setdefault(one.what, []).append(one)
    factors = comparison.before.record.trial.factors
    resets = {one.name: said.get(reset_of(one.name)) for one in factors}
    return TableEntry(
        runs=TableRuns(
            run=np.array(runs, dtype=np.int64),
            words=tuple(
                WordColumn(what=field, words=_words(said[what], row_of))
                for what, field in FIELDS.items()
                if what in said
            ),
            setup=_setups(said["setup"], row_of) if "setup" in said else None,
            settings=tuple(
                _setting(
                    comparison.before.record.trial.factor(name),
                    each,
                    row_of,
                    comparison=comparison,
                )
                for name, each in set_in.items()
            ),
            resets=tuple(
                _reset(name, each, row_of) for name, each in resets.items() if each is not None
            ),
        ),
        readings=_readings(readings, comparison),
        settles=comparison.before.settles,
    )


def _words(said: Sequence[Said], row_of: Mapping[int, int]) -> tuple[str, ...]:
    words = [""] * len(row_of)
    for one in said:
        words[row_of[one.run]] = str(one.value)
    return tuple(words)


def _setups(said: Sequence[Said], row_of: Mapping[int, int]) -> NDArray[np.int64]:
    setups = [NO_SETUP] * len(row_of)
    for one in said:
        setups[row_of[one.run]] = int(one.value)
    return np.array(setups, dtype=np.int64)


def _reset(name: str, said: Sequence[Said], row_of: Mapping[int, int]) -> ResetColumn:
    answers = [RESET_UNSAID] * len(row_of)
    for one in said:
        answers[row_of[one.run]] = int(one.value == YES)
    return ResetColumn(factor=name, answers=np.array(answers, dtype=np.int64))


def _setting(
    factor: Factor, said: Sequence[Said], row_of: Mapping[int, int], *, comparison: Comparison
) -> SettingColumn:
    rows = np.array([row_of[one.run] for one in said], dtype=np.int64)
    are_said = np.zeros(len(row_of), dtype=np.bool_)
    are_said[rows] = True
    reasons = [""] * len(row_of)
    for one, row in zip(said, rows.tolist(), strict=True):
        reasons[row] = comparison.reason_of_setting(one)
    values: NDArray[np.float64] | tuple[str | None, ...]
    if isinstance(factor, Categorical):
        words: list[str | None] = [None] * len(row_of)
        for one, row in zip(said, rows.tolist(), strict=True):
            words[row] = str(one.value)
        values = tuple(words)
    else:
        values = np.full(len(row_of), np.nan)
        values[rows] = [float(one.value) for one in said]
    return SettingColumn(
        factor=factor.name,
        unit=factor.unit,
        said=are_said,
        values=values,
        reasons=tuple(reasons) if any(reasons) else (),
    )


def _readings(readings: Sequence[Read], comparison: Comparison) -> TableReadings:
    row_of: dict[tuple[int, int, int], int] = {}
    by_outcome: dict[str, list[Read]] = {}
    for one in readings:
        row_of.setdefault((one.run, one.part, one.reading), len(row_of))
        by_outcome.setdefault(one.outcome, []).append(one)
    at = np.array(list(row_of), dtype=np.int64).reshape(len(row_of), 3)
    return TableReadings(
        run=at[:, 0].copy(),
        part=at[:, 1].copy(),
        reading=at[:, 2].copy(),
        outcomes=tuple(_outcome(each, row_of, comparison) for each in by_outcome.values()),
    )


def _outcome(
    readings: Sequence[Read], row_of: Mapping[tuple[int, int, int], int], comparison: Comparison
) -> ReadingColumn:
    n = len(row_of)
    texts, reasons = [""] * n, [""] * n
    said, values, marks = np.zeros(n, dtype=np.bool_), np.zeros(n), np.zeros(n, dtype=np.int64)
    rows = [row_of[one.run, one.part, one.reading] for one in readings]
    said[rows] = True
    values[rows] = [one.cell.value for one in readings]
    marks[rows] = [one.cell.mark for one in readings]
    for one, row in zip(readings, rows, strict=True):
        texts[row] = one.cell.text
        reasons[row] = comparison.reason_of_reading(one)
    return ReadingColumn(
        outcome=readings[0].outcome,
        unit=readings[0].unit,
        said=said,
        values=values,
        marks=marks,
        texts=tuple(texts),
        reasons=tuple(reasons) if any(reasons) else (),
    )
