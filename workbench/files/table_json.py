"""Entries of every kind, and as JSON: a table as columns, the others by their fields.

`runs` and `readings` of a table hold one list a column. A column that speaks of some rows only
says which in `rows`, counted from 0; one that says nothing is left out.
"""

from __future__ import annotations

import math
from contextlib import contextmanager
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
    packed,
)
from workbench.files.table_singles import WORDS
from workbench.numerics.distinct import distinct

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

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
    with _named("run"):
        run = _counts(fields["run"])
        _check_once(run)
    n = run.size
    with _named("setup"):
        setup = _setups(fields["setup"], n) if "setup" in fields else None
    return TableRuns(
        run=run,
        words=tuple(_words_from_json(what, fields[what], n) for what in WORDS if what in fields),
        setup=setup,
        settings=tuple(
            _setting_from_json(name, one, n) for name, one in fields.get("settings", {}).items()
        ),
        resets=tuple(
            _resets_from_json(name, one, n) for name, one in fields.get("resets", {}).items()
        ),
    )


def _words_from_json(what: str, found: Any, n: int) -> WordColumn:
    with _named(what):
        return WordColumn(what=what, words=_words(found, n))


def _resets_from_json(factor: str, found: Any, n: int) -> ResetColumn:
    with _named(f"resets of {factor}"):
        return ResetColumn(factor=factor, answers=_answers(found, n))


def _setting_from_json(factor: str, fields: Mapping[str, Any], n: int) -> SettingColumn:
    said = _said(fields, n)
    with _named(f"settings of {factor}", said):
        return _setting(factor, fields, said)


def _setting(factor: str, fields: Mapping[str, Any], said: NDArray[np.bool_]) -> SettingColumn:
    n = said.size
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
    with _named("run, part and reading"):
        run = _counts(fields["run"])
        part = _counts(fields["part"], run.size)
        reading = _counts(fields["reading"], run.size)
        _check_once(packed(run, part, reading))
    return TableReadings(
        run=run,
        part=part,
        reading=reading,
        outcomes=tuple(
            _reading_from_json(name, one, run.size) for name, one in fields["outcomes"].items()
        ),
    )


def _reading_from_json(outcome: str, fields: Mapping[str, Any], m: int) -> ReadingColumn:
    said = _said(fields, m)
    with _named(f"readings of {outcome}", said):
        return _reading(outcome, fields, said)


def _reading(outcome: str, fields: Mapping[str, Any], said: NDArray[np.bool_]) -> ReadingColumn:
    m, k = said.size, int(said.sum())
    values, marks = np.zeros(m), np.zeros(m, dtype=np.int64)
    values[said] = _numbers(_list(fields["values"], k), blank=False)
    if "marks" in fields:
        marks[said] = _counts(fields["marks"], k, most=1)
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
    _check_kinds(_list(found, n), {str})
    return tuple(found)


def _text(found: Any) -> str:
    if not isinstance(found, str):
        raise TypeError(found)
    return found


def _numbers(found: list[Any], *, blank: bool) -> NDArray[np.float64]:
    _check_kinds(found, {int, float} | ({type(None)} if blank else set()))
    values = np.array(found, dtype=np.float64)  # None becomes NaN
    unknown = np.flatnonzero(~np.isfinite(values)).tolist()
    _refuse(at for at in unknown if found[at] is not None)
    return values


def _counts(found: Any, n: int | None = None, *, most: int = MOST_COUNTED) -> NDArray[np.int64]:
    _check_kinds(_list(found, len(found) if n is None else n), {int})
    counts = np.array(found, dtype=np.int64)
    _refuse(np.flatnonzero((counts < -most) | (counts > most)).tolist())
    return counts


def _setups(found: Any, n: int) -> NDArray[np.int64]:
    numbers = [0 if one is None else one for one in _list(found, n)]
    return np.where([one is None for one in found], NO_SETUP, _counts(numbers))


def _answers(found: Any, n: int) -> NDArray[np.int64]:
    _check_kinds(_list(found, n), {bool, type(None)})
    return np.array([_ANSWERS[one] for one in found], dtype=np.int64)


def _check_kinds(found: list[Any], kinds: set[type]) -> None:
    if not set(map(type, found)) <= kinds:
        _refuse(at for at, one in enumerate(found) if type(one) not in kinds)


def _check_once(numbers: NDArray[np.int64]) -> None:
    if distinct(numbers).size < numbers.size:
        is_again = np.ones(numbers.size, dtype=np.bool_)
        is_again[np.unique(numbers, return_index=True)[1]] = False
        _refuse(np.flatnonzero(is_again).tolist())


class WrongRowError(ValueError):
    """A row of a table holds what no single entry may; the text says which row of what."""


class _WrongValueError(ValueError):
    """A column holds what it may not, as its value number `at`, counted from 0."""

    def __init__(self, at: int) -> None:
        super().__init__(at)
        self.at = at


def _refuse(wrong: Iterable[int]) -> None:
    """Raise for the first of the values that are wrong, by their places; none is well."""
    for at in wrong:
        raise _WrongValueError(at)


@contextmanager
def _named(column: str, said: NDArray[np.bool_] | None = None) -> Iterator[None]:
    """Name the column and the row, counted from 1, of a value that is refused."""
    try:
        yield
    except _WrongValueError as met:
        row = met.at if said is None else int(np.flatnonzero(said)[met.at])
        raise WrongRowError(f"{column}, row {row + 1}") from None
