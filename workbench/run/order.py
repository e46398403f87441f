"""The order in which runs were made: as planned or not, and pauses between them."""

from __future__ import annotations

from bisect import bisect_left
from datetime import datetime
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from workbench.run.finding import Finding, Kind, Weight
from workbench.run.record import Status
from workbench.run.words import run_words

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.run.record import Record

TIMES_TO_JUDGE = 6  # fewer gaps have no usual one
LONG_PAUSE = 5.0  # times the usual gap: common practice, no source
MANY = 0.2  # of the runs; fewer that moved leave the order as good as drawn: our convention
SHORTEST_PAUSE = 3600.0  # seconds; a shorter one is a cup of coffee


def was_made(record: Record) -> NDArray[np.bool_]:
    """Return which rows (n,) were made at all, whether or not they count."""
    return np.array([one is not Status.MISSING for one in record.status], dtype=bool)


def rows_as_made(record: Record) -> NDArray[np.intp]:
    """Return the rows that were made, in the order in which they were.

    That is the order of the times at which they were made where all are known, and the order of
    the record otherwise.
    """
    rows = np.flatnonzero(was_made(record))
    times = _times(record.made_at, rows)
    return rows if times is None else rows[np.argsort(times, kind="stable")]


def order_findings(record: Record) -> tuple[Finding, ...]:
    """Return runs made in another order than that of their numbers, and long pauses."""
    return (*_out_of_order(record), *_pauses(record))


def _out_of_order(record: Record) -> tuple[Finding, ...]:
    rows = rows_as_made(record)
    moved = _moved(record.run[rows])
    if moved:
        return (
            Finding(
                kind=Kind.OUT_OF_ORDER,
                runs=moved,
                sentence=f"Not made in the order of the run numbers: {run_words(moved)}.",
                next_step="If that order was chosen for ease, whatever drifted meanwhile looks "
                "like an effect of what was changed; note why it was chosen.",
                weight=Weight.CHECK if len(moved) > MANY * rows.size else Weight.NOTE,
            ),
        )
    times = None if _times(record.made_at, rows) is not None else _times(record.entered, rows)
    if times is None or np.unique(times).size < times.size:  # a whole table at once has one time
        return ()
    moved = _moved(record.run[rows][np.argsort(times, kind="stable")])
    if not moved:
        return ()
    return (
        Finding(
            kind=Kind.OUT_OF_ORDER,
            runs=moved,
            sentence=f"Entered out of the order of the run numbers: {run_words(moved)}.",
            next_step="If they were made in that order too, write the times into the column "
            "'made at'.",
            weight=Weight.ASK,
        ),
    )


def _moved(runs: NDArray[np.int64]) -> tuple[int, ...]:
    """Return the fewest runs whose taking away leaves the others ascending."""
    ends: list[int] = []  # smallest last number of an ascending sequence of each length
    length = np.zeros(runs.size, dtype=np.int64)
    for i, run in enumerate(runs.tolist()):
        length[i] = bisect_left(ends, run)
        ends[length[i] : length[i] + 1] = [run]
    kept = np.zeros(runs.size, dtype=bool)
    wanted = len(ends) - 1
    for i in range(runs.size - 1, -1, -1):
        if length[i] == wanted:
            kept[i], wanted = True, wanted - 1
    return tuple(sorted(runs[~kept].tolist()))


def _pauses(record: Record) -> tuple[Finding, ...]:
    rows = rows_as_made(record)
    times = _times(record.made_at, rows)
    if times is None or rows.size < TIMES_TO_JUDGE:
        return ()
    gaps = np.diff(times)
    usual = float(np.median(gaps))
    long = np.flatnonzero(gaps > max(LONG_PAUSE * usual, SHORTEST_PAUSE))
    if usual <= 0 or long.size == 0:
        return ()
    runs = tuple(record.run[rows[long + 1]].tolist())
    inside = record.block[rows[long]] == record.block[rows[long + 1]]
    where = "inside a block: " if inside.any() else ""
    return (
        Finding(
            kind=Kind.PAUSE,
            runs=runs,
            sentence=f"A pause before {run_words(runs)}, {where}the longest "
            f"{gaps[long].max() / 3600:.1f} h where {usual / 60:.0f} min are usual.",
            next_step="Whatever changed meanwhile (lot, shift, machine switched off) is not told "
            "from the runs after it."
            if inside.any()
            else "",
            weight=Weight.CHECK if inside.any() else Weight.NOTE,
        ),
    )


def _times(texts: tuple[str, ...], rows: NDArray[np.intp]) -> NDArray[np.float64] | None:
    """Return seconds (m,) of the rows, None if a time is not known or they cannot be compared."""
    if not texts or not rows.size:
        return None
    return _seconds(tuple(texts[row] for row in rows.tolist()))


@lru_cache(maxsize=8)  # several findings ask for the times of the same runs
def _seconds(texts: tuple[str, ...]) -> NDArray[np.float64] | None:
    try:
        moments = [datetime.fromisoformat(text) for text in texts]
        found = np.array([(one - moments[0]).total_seconds() for one in moments])
    except (ValueError, TypeError):  # empty, no time, or some with and some without a zone
        return None
    found.setflags(write=False)
    return found
