"""From readings to one number a run: readings nest in parts, parts in runs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import FitError, Unavailable
from workbench.fit.nouns import PartScatter
from workbench.fit.scales import on_scale
from workbench.run.record import Status

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.outcomes import Measured
    from workbench.define.settings import Settings
    from workbench.run.record import Readings, Record


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """Which rows of a record count: those whose settings of `factors` are known.

    `structure` says which runs are taken to share a setup: "as run", "as planned" or
    "independent" (see `fit.outcome`).
    """

    factors: tuple[str, ...]
    uses_as_run: bool = True
    with_excluded: bool = False
    structure: str = "as run"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RunMeans:
    """The runs used (n,): settings, block and mean on the outcome's scale and as read.

    `n_parts` (n,) are the parts behind each mean, where they were counted.
    """

    settings: Settings
    run: NDArray[np.int64]
    block: NDArray[np.int64]
    block_labels: tuple[str, ...]
    response: NDArray[np.float64]
    as_read: NDArray[np.float64]
    part_scatter: PartScatter | None
    n_excluded: int
    notes: tuple[str, ...]
    n_parts: NDArray[np.int64] | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Means:
    keys: NDArray[np.int64]
    mean: NDArray[np.float64]
    count: NDArray[np.int64]
    of: NDArray[np.intp]


def run_means(record: Record, outcome: Measured, wanted: Wanted) -> RunMeans | Unavailable:
    """Return the mean of each usable run, readings averaged within parts, parts within runs.

    Raises
    ------
    FitError
        If no run can be used, or a value is not above zero on a scale that needs it.
    """
    settings = chosen_settings(record, uses_as_run=wanted.uses_as_run)
    usable = counting_rows(record, wanted) & known_rows(settings, wanted.factors)
    readings = record.readings.get(outcome.name)
    seen = seen_readings(readings, usable)
    if readings is None or not seen.any():
        raise nothing_to_fit(outcome.name, record, usable)
    marked = np.unique(readings.row[seen & (readings.mark != 0)])
    if marked.size:
        return _beyond_gauge(outcome.name, record.run[marked])
    _check_positive(record, outcome, (readings, seen))
    return _averaged(record, outcome, Chosen(wanted, settings, usable, readings, seen))


@dataclass(frozen=True, slots=True)
class Chosen:
    """What counts of a record: settings (n, k), usable rows (n,), readings and those seen (m,)."""

    wanted: Wanted
    settings: Settings
    usable: NDArray[np.bool_]
    readings: Readings
    seen: NDArray[np.bool_]


def chosen_settings(record: Record, *, uses_as_run: bool) -> Settings:
    """Return as-run or planned settings of every row of a record.

    Raises
    ------
    FitError
        If planned settings are asked for and none were written down.
    """
    if uses_as_run:
        return record.as_run
    if record.planned is None:
        raise FitError(
            "Planned settings are asked for, but this record has none.",
            why="The runs were taken in as they were made, without a plan.",
            next_step="Fit the as-run settings, or take the plan in as well (--planned FILE).",
        )
    return record.planned


def _averaged(record: Record, outcome: Measured, chosen: Chosen) -> RunMeans:
    readings, seen = chosen.readings, chosen.seen
    keys = np.column_stack([readings.row, readings.part])[seen]
    parts = _grouped(keys, on_scale(readings.value[seen], outcome.scale))
    runs = _grouped(parts.keys[:, :1], parts.mean)
    plain = _grouped(keys, readings.value[seen])
    rows = runs.keys[:, 0]
    labels, block = np.unique(record.block[rows], return_inverse=True)
    return RunMeans(
        settings=chosen.settings.rows(rows),
        run=record.run[rows],
        block=block.astype(np.int64),
        block_labels=tuple(record.block_labels[label] for label in labels),
        response=runs.mean,
        as_read=_grouped(plain.keys[:, :1], plain.mean).mean,
        part_scatter=_part_scatter(parts, runs),
        n_excluded=0 if chosen.wanted.with_excluded else _count(record, Status.EXCLUDED),
        notes=(
            *row_notes(record, chosen, rows),
            *_part_notes(runs.count),
        ),
        n_parts=runs.count,
    )


def _grouped(keys: NDArray[np.int64], values: NDArray[np.float64]) -> _Means:
    found, of = np.unique(keys, axis=0, return_inverse=True)
    of = of.reshape(-1)
    count = np.bincount(of)
    # Differences from a first value of each group keep the digits of large, nearly equal readings.
    first = np.zeros(count.size)
    first[of[::-1]] = values[::-1]
    mean = first + np.bincount(of, weights=values - first[of]) / count
    return _Means(keys=found, mean=mean, count=count.astype(np.int64), of=of)


def _part_scatter(parts: _Means, runs: _Means) -> PartScatter | None:
    df = int((runs.count - 1).sum())
    if df == 0:
        return None
    deviations = parts.mean - runs.mean[runs.of]
    return PartScatter(
        variance=float(deviations @ deviations) / df,
        df=df,
        parts_per_run=float(1 / np.mean(1 / runs.count)),
    )


def counting_rows(record: Record, wanted: Wanted) -> NDArray[np.bool_]:
    """Return which rows (n,) of a record count: done, and excluded ones where asked."""
    counting = {Status.DONE, Status.EXCLUDED} if wanted.with_excluded else {Status.DONE}
    return np.array([status in counting for status in record.status], dtype=bool)


def known_rows(settings: Settings, factors: tuple[str, ...]) -> NDArray[np.bool_]:
    """Return in which rows (n,) all of the factors' settings are known."""
    places = [settings.names.index(name) for name in factors]
    return np.asarray(np.isfinite(settings.values[:, places]).all(axis=1))


def seen_readings(readings: Readings | None, usable: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return which readings (m,) are numbers in usable rows (n,)."""
    if readings is None or len(readings) == 0:
        return np.zeros(0, dtype=bool)
    return usable[readings.row] & np.isfinite(readings.value)


def _check_positive(
    record: Record, outcome: Measured, taken: tuple[Readings, NDArray[np.bool_]]
) -> None:
    readings, seen = taken
    low = seen & (readings.value <= 0)
    if outcome.scale == "as read" or not low.any():
        return
    row = readings.row[low][0]
    raise FitError(
        f"{outcome.name!r} reads {readings.value[low][0]:g} in run {record.run[row]}.",
        why=f"The {outcome.scale} scale exists for values above zero only.",
        next_step='Check the reading, or fit with scale = "as read".',
        place=f"run {record.run[row]}",
    )


def nothing_to_fit(name: str, record: Record, usable: NDArray[np.bool_]) -> FitError:
    """Return the error that no run of an outcome can be fitted."""
    return FitError(
        f"{name!r} has no run that can be fitted: of {len(record)} runs {int(usable.sum())} are "
        "done with their settings known, and none of them has a reading.",
        why="A model needs readings at known settings.",
        next_step="Take results in first (workbench take), or check which runs were excluded.",
    )


def _beyond_gauge(name: str, runs: NDArray[np.int64]) -> Unavailable:
    return Unavailable(
        reason=f"no model yet for readings beyond what the gauge can read: {name!r} in "
        f"{in_words(runs)}. Taking the limit as the reading would be wrong; read those parts on "
        "a gauge that reaches, or leave the runs out with that reason and see both answers."
    )


def row_notes(record: Record, chosen: Chosen, rows: NDArray[np.int64]) -> list[str]:
    """Return why runs are not in the fit, and what was excluded by hand."""
    counted = counting_rows(record, chosen.wanted)
    unknown = counted & ~chosen.usable
    unread = chosen.usable.copy()
    unread[rows] = False
    notes = []
    for left_out, why in (
        (unknown, "a setting that stands in the model is not known"),
        (unread, "no reading of this outcome"),
        (_is(record, Status.MISSING), "planned, but nothing was recorded"),
        (_is(record, Status.FAILED), "failed"),
        (_is(record, Status.REPEATED), "made again"),
    ):
        if left_out.any():
            notes.append(f"Not in the fit: {in_words(record.run[left_out])} ({why}).")
    return notes + _exclusion_notes(record, chosen.wanted)


def _exclusion_notes(record: Record, wanted: Wanted) -> list[str]:
    how = "is in this fit although it was left out" if wanted.with_excluded else "is left out"
    return [
        f"Run {number} {how}: {reason}."
        for number, status, reason in zip(record.run, record.status, record.reason, strict=True)
        if status is Status.EXCLUDED
    ]


def _part_notes(count: NDArray[np.int64]) -> list[str]:
    if count.max() == 1:
        return []
    if count.min() == count.max():
        return [f"{count[0]} parts a run were averaged; only runs replicate."]
    return [
        (
            f"Runs have {count.min()} to {count.max()} parts. Each run mean counts the same: "
            "right weights would need the scatter between runs apart from that between parts."
        )
    ]


def _is(record: Record, status: Status) -> NDArray[np.bool_]:
    return np.array([one is status for one in record.status], dtype=bool)


def _count(record: Record, status: Status) -> int:
    return int(_is(record, status).sum())


def in_words(runs: NDArray[np.int64]) -> str:
    """Return run numbers as words, such as "run 3" or "runs 3, 5 and 8"."""
    numbers = [str(number) for number in runs]
    if len(numbers) == 1:
        return f"run {numbers[0]}"
    return f"runs {', '.join(numbers[:-1])} and {numbers[-1]}"
