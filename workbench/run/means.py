"""Readings of a measured outcome run by run, on the scale on which their scatter is even."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.outcomes import Measured

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.run.record import Record


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ByRun:
    """Readings (m,) that count, on the outcome's scale, and the runs they belong to.

    `row` (r,) are the rows of the record that have any, `of` (m,) the place of each reading in
    `row`, `count` and `mean` (r,) their number and mean. Runs with a reading cut off by the gauge
    are not among them: such a mean is no mean. `index` (m,) is the place among all readings.
    """

    row: NDArray[np.int64]
    of: NDArray[np.intp]
    value: NDArray[np.float64]
    count: NDArray[np.int64]
    mean: NDArray[np.float64]
    index: NDArray[np.intp]


def measured_outcomes(record: Record) -> tuple[Measured, ...]:
    """Return the measured outcomes of which there are readings."""
    return tuple(
        one
        for one in record.trial.outcomes
        if isinstance(one, Measured) and len(record.readings.get(one.name, ()))
    )


def by_run(record: Record, outcome: Measured) -> ByRun:
    """Return the readings of an outcome in the runs that count, on its scale."""
    readings = record.readings[outcome.name]
    values = np.full(len(readings), np.nan)
    fits = np.isfinite(readings.value) & (
        (readings.value > 0) | (outcome.scale in ("as read", "square root"))
    )
    fits &= (readings.value >= 0) | (outcome.scale == "as read")
    values[fits] = _on_scale(readings.value[fits], outcome.scale)
    whole = np.ones(len(record), dtype=bool)
    whole[readings.row[(readings.mark != 0) | ~fits]] = False
    index = np.flatnonzero((record.used() & whole)[readings.row])
    row, of = np.unique(readings.row[index], return_inverse=True)
    count = np.bincount(of, minlength=row.size)
    mean = np.bincount(of, weights=values[index], minlength=row.size) / np.maximum(count, 1)
    return ByRun(
        row=row,
        of=of,
        value=values[index],
        count=np.asarray(count, dtype=np.int64),
        mean=mean,
        index=index,
    )


def _on_scale(values: NDArray[np.float64], scale: str) -> NDArray[np.float64]:
    match scale:
        case "log":
            return np.asarray(np.log(values))
        case "square root":
            return np.asarray(np.sqrt(values))
        case "inverse":
            return 1 / values
        case _:
            return values
