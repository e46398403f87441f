"""Rows of a table as runs that were made: settings, readings and places."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.files.raw_table import RawTable
    from workbench.steps.adopt_nouns import OutcomeColumn
    from workbench.steps.adopt_runs import Rows


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Made:
    """Runs as they were made: settings (n, k) row by row, readings, where each row belongs.

    `number` gives the run number kept for each run number of the table.
    """

    table: RawTable
    factors: tuple[Factor, ...]
    values: NDArray[np.float64]
    outcomes: tuple[OutcomeColumn, ...]
    rows: Rows
    number: dict[int, int]
    blocked_by: str

    def first_rows(self) -> list[int]:
        """Return the first row of each run, by run number."""
        _, first = np.unique(self.rows.run, return_index=True)
        return [int(i) for i in first]

    def kept_numbers(self) -> NDArray[np.int64]:
        """Return the run number (n,) that is kept for each row."""
        runs, row = np.unique(self.rows.run, return_inverse=True)
        kept = np.array([self.number[run] for run in runs.tolist()], dtype=np.int64)
        return kept[row.reshape(-1)]
