"""Counts of a run: its parts added up, since parts of a run share its setting."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import FitError, Unavailable
from workbench.fit.run_means import in_words
from workbench.numerics.counts import CountRows

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.outcomes import Counted
    from workbench.fit.part_rows import PartRows


@dataclass(frozen=True, slots=True, kw_only=True)
class WithinRuns:
    """Scatter of counts between parts of a run over that of chance (Pearson), with its df.

    `mean` is the mean count of a part, `parts` the harmonic mean of parts a run.
    """

    ratio: float
    df: int
    mean: float
    parts: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RunCounts:
    """One row a run: settings and labels as in `data`, counts with exposure in `rows`.

    `parts` (n,) are the parts whose counts were added up.
    """

    data: PartRows
    rows: CountRows
    within: WithinRuns | None
    parts: NDArray[np.float64]


def run_counts(data: PartRows, outcome: Counted, exposure: str) -> RunCounts | Unavailable:
    """Return the count of each run; `exposure` names the factor that counts are in proportion to.

    Raises
    ------
    FitError
        If a count is below zero, no whole number, above the places there are, or its exposure is
        not above zero.
    """
    if (data.mark != 0).any():
        runs = in_words(np.unique(data.run[data.mark != 0]))
        return Unavailable(
            reason=f"{outcome.name!r} has counts that were broken off ({runs}), and there is no "
            "model of such counts yet; count those parts to the end, or leave the runs out with "
            "that reason"
        )
    _check_counts(data, outcome)
    size = _exposures(data, exposure)
    _, first, of = np.unique(data.run, return_index=True, return_inverse=True)
    of = of.reshape(-1)
    order = np.argsort(first)
    rank = np.argsort(order)[of]
    rows = first[order]
    parts = np.bincount(rank).astype(np.float64)
    trials = None if outcome.out_of is None else outcome.out_of * parts
    offset = np.zeros(parts.size)
    if outcome.out_of is None:
        offset = np.log(np.bincount(rank, weights=size))
    return RunCounts(
        data=_one_a_run(data, rows),
        rows=CountRows(
            count=np.bincount(rank, weights=data.value).astype(np.float64),
            offset=offset,
            trials=trials,
        ),
        within=_within(data, rank, outcome),
        parts=parts,
    )


def _one_a_run(data: PartRows, rows: NDArray[np.intp]) -> PartRows:
    notes = data.notes
    if data.has_parts:
        notes = (*notes, "The counts of the parts of a run were added up; only runs replicate.")
    return replace(
        data,
        settings=data.settings.rows(rows),
        run=data.run[rows],
        setup=data.setup[rows],
        block=data.block[rows],
        value=data.value[rows],
        mark=data.mark[rows],
        notes=notes,
    )


def _within(data: PartRows, rank: NDArray[np.intp], outcome: Counted) -> WithinRuns | None:
    parts = np.bincount(rank)
    df = int((parts - 1).sum())
    if df == 0:
        return None
    means = np.bincount(rank, weights=data.value) / parts
    chance = means if outcome.out_of is None else means * (1 - means / outcome.out_of)
    expected = chance[rank]
    told = expected > 0
    if not told.any():
        return None
    squares = (data.value - means[rank])[told] ** 2 / expected[told]
    own = int(told.sum() - np.unique(rank[told]).size)
    return WithinRuns(
        ratio=float(squares.sum()) / max(own, 1),
        df=max(own, 1),
        mean=float(data.value.mean()),
        parts=float(1 / np.mean(1 / parts)),
    )


def _exposures(data: PartRows, exposure: str) -> NDArray[np.float64]:
    if not exposure:
        return np.ones(data.value.size)
    size = data.settings.column(exposure)
    if not (np.isfinite(size) & (size > 0)).all():
        raise FitError(
            f"{exposure!r} is not known and above zero in every run.",
            why="Counts are taken in proportion to it.",
            next_step="Enter it, or leave those runs out with the reason.",
        )
    return np.asarray(size)


def _check_counts(data: PartRows, outcome: Counted) -> None:
    for wrong, why in (
        (data.value < 0, "A count is never below zero."),
        (data.value != np.round(data.value), "A count is a whole number."),
        (
            data.value > (np.inf if outcome.out_of is None else outcome.out_of),
            f"A part has {outcome.out_of} places to count on.",
        ),
    ):
        if wrong.any():
            first = int(np.flatnonzero(wrong)[0])
            raise FitError(
                f"{outcome.name!r} reads {data.value[first]:g} in run {data.run[first]}.",
                why=why,
                next_step="Check the reading, and whether out_of and the unit are those meant.",
                place=f"run {data.run[first]}",
            )
