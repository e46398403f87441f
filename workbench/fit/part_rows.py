"""From readings to one row a part, for outcomes that cannot be averaged over a run."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from workbench.fit.run_means import (
    Chosen,
    chosen_settings,
    counting_rows,
    in_words,
    known_rows,
    nothing_to_fit,
    row_notes,
    seen_readings,
)
from workbench.fit.strata import shared_setups
from workbench.run.record import Status

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.settings import Settings
    from workbench.define.terms import Terms
    from workbench.fit.run_means import (
        Wanted,
    )
    from workbench.run.record import Readings, Record


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PartRows:
    """One row a part (n,): settings, run and setup number, block, reading and its mark.

    `mark` is −1 where only "below value" is known, +1 for "above value", 0 for a plain reading.
    `set_together` are the factors that are set once for all runs of a setup.
    """

    settings: Settings
    run: NDArray[np.int64]
    setup: NDArray[np.int64]
    block: NDArray[np.int64]
    block_labels: tuple[str, ...]
    value: NDArray[np.float64]
    mark: NDArray[np.int64]
    n_excluded: int
    notes: tuple[str, ...]
    set_together: tuple[str, ...] = ()

    @property
    def n_runs(self) -> int:
        """Number of runs behind the rows."""
        return int(np.unique(self.run).size)

    @property
    def has_parts(self) -> bool:
        """Whether some run has several parts."""
        return self.n_runs < self.run.size

    def shares_setups(self, terms: Terms) -> tuple[str, ...]:
        """Return the factors in the model that were not reset for every run.

        Runs of one setup share its reset, so they say less about these factors than as many runs
        with a reset of their own.
        """
        if np.unique(self.setup).size >= self.n_runs:
            return ()
        in_model = {name for term in terms.terms for name in term.factors}
        return tuple(name for name in self.set_together if name in in_model)


def part_rows(record: Record, name: str, wanted: Wanted) -> PartRows:
    """Return one row for each part of the usable runs.

    Raises
    ------
    FitError
        If no run can be used.
    """
    settings = chosen_settings(record, uses_as_run=wanted.uses_as_run)
    usable = counting_rows(record, wanted) & known_rows(settings, wanted.factors)
    readings = record.readings.get(name)
    seen = seen_readings(readings, usable)
    if readings is None or not seen.any():
        raise nothing_to_fit(name, record, usable)
    chosen = Chosen(wanted, settings, usable, readings, seen)
    parts = _one_a_part(readings, seen)
    rows = readings.row[parts]
    labels, block = np.unique(record.block[rows], return_inverse=True)
    of_run, of = np.unique(rows, return_inverse=True)
    shared = shared_setups(record, of_run, wanted.structure)
    excluded = 0 if wanted.with_excluded else _n_excluded(record)
    return PartRows(
        settings=settings.rows(rows),
        run=record.run[rows],
        setup=shared.levels[of.reshape(-1)],
        block=block.astype(np.int64).reshape(-1),
        block_labels=tuple(record.block_labels[label] for label in labels),
        value=readings.value[parts],
        mark=readings.mark[parts],
        n_excluded=excluded,
        notes=(
            *row_notes(record, chosen, of_run),
            *_repeats(record, chosen, parts),
            *shared.notes,
        ),
        set_together=shared.factors,
    )


def middle_of_runs(data: PartRows) -> PartRows:
    """Return the middle part of each run, of two the lower, where runs have several parts.

    A reading "above value" is taken to lie above plain ones of that value, "below value" below:
    the order of parts needs no more, unless two cut-off parts overlap.
    """
    if not data.has_parts:
        return data
    order = np.lexsort((data.mark, data.value, data.run))
    _, first, count = np.unique(data.run[order], return_index=True, return_counts=True)
    rows = np.sort(order[first + (count - 1) // 2])
    return replace(
        data,
        settings=data.settings.rows(rows),
        run=data.run[rows],
        setup=data.setup[rows],
        block=data.block[rows],
        value=data.value[rows],
        mark=data.mark[rows],
        notes=(
            *data.notes,
            (
                "Each run stands for its parts by the middle one of them (of two the lower): "
                "parts of a run share its setting and replicate nothing."
            ),
        ),
    )


def _one_a_part(readings: Readings, seen: NDArray[np.bool_]) -> NDArray[np.intp]:
    """Return the place of the middle reading of each part, a plain one before a marked one.

    Repeats on one part are never replicates; an outcome that cannot be averaged keeps one.
    """
    places = np.flatnonzero(seen)
    order = np.lexsort(
        (
            readings.value[places],
            np.abs(readings.mark[places]),
            readings.part[places],
            readings.row[places],
        )
    )
    keys = np.column_stack([readings.row, readings.part])[places[order]]
    _, first = np.unique(keys, axis=0, return_index=True)
    ends = np.append(first[1:], order.size)
    plain = np.add.reduceat(readings.mark[places[order]] == 0, first, dtype=np.int64)
    count = np.where(plain > 0, plain, ends - first)
    return np.asarray(places[order[first + (count - 1) // 2]])


def _repeats(record: Record, chosen: Chosen, parts: NDArray[np.intp]) -> list[str]:
    extra = int(chosen.seen.sum()) - parts.size
    if not extra:
        return []
    places = np.setdiff1d(np.flatnonzero(chosen.seen), parts)
    runs = np.unique(record.run[chosen.readings.row[places]])
    return [
        (
            f"Repeated readings on one part ({in_words(runs)}) are no replicates: the middle one "
            "of each part is used."
        )
    ]


def _n_excluded(record: Record) -> int:
    return sum(one is Status.EXCLUDED for one in record.status)
