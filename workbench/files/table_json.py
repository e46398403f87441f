"""Entries of every kind, and as JSON: a table as columns, the others by their fields.

`runs` and `readings` of a table hold one list a column. A column that speaks of some rows only
says which in `rows`, counted from 0; one that says nothing is left out.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from workbench.files.entries import (
    MOST_COUNTED,
    Entry,
    ReceiptEntry,
    entry_from_json,
    entry_to_json,
)
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
from workbench.files.table_singles import WORDS
from workbench.numerics.distinct import distinct

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

KIND = "table"
AnyEntry = Entry | TableEntry
_ANSWERS = {None: RESET_UNSAID, False: 0, True: 1}


def any_to_json(entry: AnyEntry) -> dict[str, Any]:
    """Return the fields of an entry of any kind that say something, ready for JSON."""
    if not isinstance(entry, TableEntry):
        return entry_to_json(entry)
    fields: dict[str, Any] = {
        "kind": KIND,
        "runs": _runs_to_json(entry.runs),
        "readings": _readings_to_json(entry.readings),
    }
    if entry.settles:
        fields["settles"] = True
    if entry.receipt is not None:
        fields["receipt"] = entry_to_json(entry.receipt)
    return fields


def any_from_json(fields: Mapping[str, Any]) -> AnyEntry:
    """Return the entry of any kind that JSON fields hold.

    Raises
    ------
    KeyError, TypeError, ValueError, OverflowError, AttributeError
        If a field is missing or of the wrong kind.
    """
    if fields["kind"] != KIND:
        return entry_from_json(fields)
    receipt = fields.get("receipt")
    kept = None if receipt is None else entry_from_json(receipt)
    if kept is not None and not isinstance(kept, ReceiptEntry):
        raise TypeError(receipt)
    return TableEntry(
        runs=_runs_from_json(fields["runs"]),
        readings=_readings_from_json(fields["readings"]),
        receipt=kept,
        settles=bool(fields.get("settles", False)),
    )


def receipt_of(entry: AnyEntry) -> ReceiptEntry | None:
    """Return the receipt that an entry is or holds, None if it has none."""
    if isinstance(entry, TableEntry):
        return entry.receipt
    return entry if isinstance(entry, ReceiptEntry) else None


def runs_of(entry: AnyEntry) -> list[int]:
    """Return the numbers of the runs that an entry speaks of."""
    if isinstance(entry, TableEntry):
        return [int(run) for run in entry.runs_named.tolist()]
    return [] if isinstance(entry, ReceiptEntry) else [entry.run]


def _runs_to_json(runs: TableRuns) -> dict[str, Any]:
    answers = {value: word for word, value in _ANSWERS.items()}
    fields: dict[str, Any] = {"run": runs.run.tolist()}
    fields |= {one.what: one.words for one in runs.words}
    if runs.setup is not None:
        fields["setup"] = [None if one == NO_SETUP else one for one in runs.setup.tolist()]
    fields["settings"] = {one.factor: _setting_to_json(one) for one in runs.settings}
    fields["resets"] = {
        one.factor: [answers[answer] for answer in one.answers.tolist()] for one in runs.resets
    }
    return {name: value for name, value in fields.items() if value or name == "run"}


def _setting_to_json(one: SettingColumn) -> dict[str, Any]:
    rows = _Rows(one.said)
    if isinstance(one.values, np.ndarray):
        said = one.values[rows.at].tolist()
        known: list[Any] = (
            [None if math.isnan(value) else value for value in said]
            if np.isnan(one.values).any()
            else said
        )
    else:
        known = rows.of(one.values)
    return {"unit": one.unit, "values": known} | rows.to_json() | rows.reasons(one.reasons)


def _readings_to_json(readings: TableReadings) -> dict[str, Any]:
    return {
        "run": readings.run.tolist(),
        "part": readings.part.tolist(),
        "reading": readings.reading.tolist(),
        "outcomes": {one.outcome: _reading_to_json(one) for one in readings.outcomes},
    }


def _reading_to_json(one: ReadingColumn) -> dict[str, Any]:
    rows = _Rows(one.said)
    fields: dict[str, Any] = {"unit": one.unit, "values": one.values[rows.at].tolist()}
    marks = one.marks[rows.at]
    if marks.any():
        fields["marks"] = marks.tolist()
    fields["texts"] = rows.of(one.texts)
    return fields | rows.to_json() | rows.reasons(one.reasons)


class _Rows:
    """The rows of which a column says something, on the way to JSON."""

    def __init__(self, said: NDArray[np.bool_]) -> None:
        self.at = np.flatnonzero(said)
        self.is_all = bool(said.all())

    def of(self, column: tuple[Any, ...]) -> list[Any]:
        """Return what a column says in these rows."""
        return list(column) if self.is_all else [column[row] for row in self.at.tolist()]

    def to_json(self) -> dict[str, Any]:
        """Return which rows they are, nothing if they are all."""
        return {} if self.is_all else {"rows": self.at.tolist()}

    def reasons(self, reasons: tuple[str, ...]) -> dict[str, Any]:
        """Return the reasons given in these rows, nothing if there is none."""
        return {"reasons": self.of(reasons)} if any(reasons) else {}


def _runs_from_json(fields: Mapping[str, Any]) -> TableRuns:
    run = _counts(fields["run"])
    n = run.size
    if distinct(run).size < n:
        raise ValueError("a run stands twice")
    words = tuple(
        WordColumn(what=what, words=_words(fields[what], n)) for what in WORDS if what in fields
    )
    return TableRuns(
        run=run,
        words=words,
        setup=_setups(fields["setup"], n) if "setup" in fields else None,
        settings=tuple(
            _setting_from_json(name, one, n) for name, one in fields.get("settings", {}).items()
        ),
        resets=tuple(
            ResetColumn(factor=name, answers=_answers(one, n))
            for name, one in fields.get("resets", {}).items()
        ),
    )


def _setting_from_json(factor: str, fields: Mapping[str, Any], n: int) -> SettingColumn:
    said = _said(fields, n)
    found = _list(fields["values"], int(said.sum()))
    values: NDArray[np.float64] | tuple[str | None, ...]
    if set(map(type, found)) <= {str, type(None)}:
        words = np.full(n, None, dtype=object)
        words[said] = found
        values = tuple(words.tolist())
    else:
        values = np.full(n, np.nan)
        values[said] = _numbers(found, blank=True)
    return SettingColumn(
        factor=factor,
        unit=_text(fields["unit"]),
        said=said,
        values=values,
        reasons=_reasons(fields, said),
    )


def _readings_from_json(fields: Mapping[str, Any]) -> TableReadings:
    run = _counts(fields["run"])
    found = TableReadings(
        run=run,
        part=_counts(fields["part"], run.size),
        reading=_counts(fields["reading"], run.size),
        outcomes=tuple(
            _reading_from_json(name, one, run.size) for name, one in fields["outcomes"].items()
        ),
    )
    if distinct(found.place).size < run.size:
        raise ValueError("a reading stands twice")
    return found


def _reading_from_json(outcome: str, fields: Mapping[str, Any], m: int) -> ReadingColumn:
    said = _said(fields, m)
    k = int(said.sum())
    values, marks = np.zeros(m), np.zeros(m, dtype=np.int64)
    values[said] = _numbers(_list(fields["values"], k), blank=False)
    if "marks" in fields:
        marks[said] = _counts(fields["marks"], k)
        if np.abs(marks).max(initial=0) > 1:
            raise ValueError("a mark is neither -1, 0 nor 1")
    return ReadingColumn(
        outcome=outcome,
        unit=_text(fields["unit"]),
        said=said,
        values=values,
        marks=marks,
        texts=_spread(_words(fields["texts"], k), said),
        reasons=_reasons(fields, said),
    )


def _said(fields: Mapping[str, Any], n: int) -> NDArray[np.bool_]:
    if "rows" not in fields:
        return np.ones(n, dtype=np.bool_)
    rows = _counts(fields["rows"])
    said = np.zeros(n, dtype=np.bool_)
    if rows.size and (rows[0] < 0 or rows[-1] >= n or (np.diff(rows) <= 0).any()):
        raise ValueError("rows are not in order")
    said[rows] = True
    return said


def _reasons(fields: Mapping[str, Any], said: NDArray[np.bool_]) -> tuple[str, ...]:
    if "reasons" not in fields:
        return ()
    return _spread(_words(fields["reasons"], int(said.sum())), said)


def _spread(texts: tuple[str, ...], said: NDArray[np.bool_]) -> tuple[str, ...]:
    if said.all():
        return texts
    spread = np.full(said.size, "", dtype=object)
    spread[said] = texts
    return tuple(spread.tolist())


def _list(found: Any, n: int) -> list[Any]:
    if not isinstance(found, list) or len(found) != n:
        raise ValueError("not as many as there are rows")
    return found


def _words(found: Any, n: int) -> tuple[str, ...]:
    if not set(map(type, _list(found, n))) <= {str}:
        raise TypeError("not all are words")
    return tuple(found)


def _text(found: Any) -> str:
    if not isinstance(found, str):
        raise TypeError(found)
    return found


def _numbers(found: list[Any], *, blank: bool) -> NDArray[np.float64]:
    kinds = set(map(type, found))
    if not kinds <= {int, float} | ({type(None)} if blank else set()):
        raise TypeError("not all are numbers")
    values = np.array(found, dtype=np.float64)  # None becomes NaN
    if np.isinf(values).any() or (np.isnan(values).any() and type(None) not in kinds):
        raise ValueError("not all are finite")
    return values


def _counts(found: Any, n: int | None = None) -> NDArray[np.int64]:
    if not set(map(type, _list(found, len(found) if n is None else n))) <= {int}:
        raise TypeError("not all are counts")
    counts = np.array(found, dtype=np.int64)
    if counts.size and max(-int(counts.min()), int(counts.max())) > MOST_COUNTED:
        raise ValueError("a count is too high")
    return counts


def _setups(found: Any, n: int) -> NDArray[np.int64]:
    numbers = _list(found, n)
    _counts([one for one in numbers if one is not None])
    return np.array([NO_SETUP if one is None else one for one in numbers], dtype=np.int64)


def _answers(found: Any, n: int) -> NDArray[np.int64]:
    answers = _list(found, n)
    if not set(map(type, answers)) <= {bool, type(None)}:
        raise TypeError("not all are answers")
    return np.array([_ANSWERS[one] for one in answers], dtype=np.int64)
