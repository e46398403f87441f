"""The rows of a mixed model: run means, or one row a part where runs have differing numbers."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from workbench.fit.part_rows import part_rows
from workbench.fit.run_means import RunMeans, run_means, seen_readings
from workbench.fit.scales import on_scale

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.outcomes import Measured
    from workbench.errors import Unavailable
    from workbench.fit.run_means import Wanted
    from workbench.fit.strata import RandomTerm, Strata
    from workbench.run.record import Record


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MixedRows:
    """Rows (n,) with the random terms over them; `are_parts` says what a row is.

    Blocks that are random stand in `random`, and `data` then has one block.
    """

    data: RunMeans
    random: tuple[RandomTerm, ...]
    are_parts: bool


def mixed_rows(
    record: Record, outcome: Measured, *, wanted: Wanted, strata: Strata
) -> MixedRows | Unavailable:
    """Return the rows of an outcome on its scale.

    Raises
    ------
    FitError
        If no run can be used, or a value is not above zero on a scale that needs it.
    """
    means = run_means(record, outcome, wanted)
    if not isinstance(means, RunMeans):
        return means
    are_parts = any(one.what == "run" for one in strata.random)
    data = _by_part(record, (outcome, wanted), means) if are_parts else means
    place = {int(number): i for i, number in enumerate(means.run)}
    own = np.array([place[int(number)] for number in data.run], dtype=np.intp)
    random = tuple(replace(one, levels=one.levels[own]) for one in strata.random)
    if not strata.fixed_blocks:
        data = replace(data, block=np.zeros_like(data.block), block_labels=("all",))
    return MixedRows(data=data, random=random, are_parts=are_parts)


def _by_part(record: Record, asked: tuple[Measured, Wanted], means: RunMeans) -> RunMeans:
    outcome, wanted = asked
    rows = part_rows(record, outcome.name, wanted)
    low, high = int(np.min(_counts(means))), int(np.max(_counts(means)))
    as_read, response = _part_means(record, outcome, rows.run)
    note = (
        f"Runs have {low} to {high} parts: each part is a row and the runs are a level of the "
        "structure, so that every part has its right weight; only runs replicate."
    )
    kept = tuple(one for one in means.notes if not one.startswith("Runs have"))
    return RunMeans(
        settings=rows.settings,
        run=rows.run,
        block=rows.block,
        block_labels=rows.block_labels,
        response=response,
        as_read=as_read,
        part_scatter=None,
        n_excluded=means.n_excluded,
        notes=(*kept, note),
    )


def _counts(means: RunMeans) -> NDArray[np.int64]:
    return np.ones(means.run.size, dtype=np.int64) if means.n_parts is None else means.n_parts


def _part_means(
    record: Record, outcome: Measured, runs: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the mean reading of each part as read and on the scale, in the order of the rows."""
    readings = record.readings[outcome.name]
    wanted = np.isin(record.run, runs)
    seen = seen_readings(readings, wanted)
    keys = np.column_stack([readings.row, readings.part])[seen]
    _, of = np.unique(keys, axis=0, return_inverse=True)
    of = of.reshape(-1)
    count = np.bincount(of)
    as_read = np.bincount(of, weights=readings.value[seen]) / count
    response = np.bincount(of, weights=on_scale(readings.value[seen], outcome.scale)) / count
    return as_read, response
