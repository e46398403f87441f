"""Passes of parts tried, run by run: what a pass/fail outcome's record comes to."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from workbench.fit.part_rows import part_rows

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.fit.part_rows import PartRows
    from workbench.fit.run_means import Wanted
    from workbench.run.record import Record


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PassRuns:
    """One row a run (n,): passes and parts; `rows` holds settings, setup, block and notes.

    `rows.value` is the share that passed.
    """

    rows: PartRows
    passed: NDArray[np.float64]
    parts: NDArray[np.float64]

    @property
    def n_parts(self) -> int:
        """Number of parts tried."""
        return int(self.parts.sum())

    @property
    def n_failed(self) -> int:
        """Number of parts that failed."""
        return int(self.parts.sum() - self.passed.sum())

    @property
    def has_parts(self) -> bool:
        """Whether some run has several parts."""
        return bool(self.parts.max() > 1)


def pass_runs(record: Record, name: str, wanted: Wanted) -> PassRuns:
    """Return passes and parts of each usable run.

    A part read more than once passes if most of its readings do (a tie fails).

    Raises
    ------
    FitError
        If no run can be used.
    """
    each = part_rows(record, name, wanted)
    _, first, of = np.unique(each.run, return_index=True, return_inverse=True)
    order = np.argsort(first)
    place = np.argsort(order)[of.reshape(-1)]
    parts = np.bincount(place).astype(float)
    passed = np.bincount(place, weights=each.value).astype(float)
    rows = first[order]
    return PassRuns(
        rows=replace(
            each,
            settings=each.settings.rows(rows),
            run=each.run[rows],
            setup=each.setup[rows],
            block=each.block[rows],
            value=passed / parts,
            mark=each.mark[rows],
        ),
        passed=passed,
        parts=parts,
    )
