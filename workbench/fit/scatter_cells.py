"""Variances of runs at the same settings, or of parts within runs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.fit.scales import on_scale

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.outcomes import Measured
    from workbench.define.settings import Settings
    from workbench.fit.part_rows import PartRows


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ScatterCells:
    """Variances (m,) with their df (m,) at settings (m, k); `level` is "run" or "part"."""

    settings: Settings
    variance: NDArray[np.float64]
    df: NDArray[np.float64]
    level: str


def scatter_cells(
    data: PartRows, outcome: Measured, factors: tuple[str, ...]
) -> ScatterCells | None:
    """Return variances of run means at the same settings and block, else of parts within runs.

    None where neither is repeated. Only runs replicate: where both are repeated it is the run
    means that tell how a new run scatters. `factors` are the names that settings are told by.
    """
    value = on_scale(data.value, outcome.scale)
    _, first, run = np.unique(data.run, return_index=True, return_inverse=True)
    run = run.reshape(-1)
    count = np.bincount(run)
    means = np.bincount(run, weights=value) / count
    chosen = [data.settings.names.index(name) for name in factors]
    coded = np.round(data.settings.coded()[first][:, chosen], 6)
    keys = np.column_stack([coded, data.block[first]])
    cell = np.unique(keys, axis=0, return_inverse=True)[1].reshape(-1)
    settings = data.settings.rows(first)
    if np.bincount(cell).max() > 1:
        return _variances(settings, means, (cell, "run"))
    if count.max() > 1:
        return _variances(data.settings, value, (run, "part"))
    return None


def _variances(
    settings: Settings, value: NDArray[np.float64], of: tuple[NDArray[np.intp], str]
) -> ScatterCells:
    cell, level = of
    count = np.bincount(cell)
    means = np.bincount(cell, weights=value) / count
    squares = np.bincount(cell, weights=(value - means[cell]) ** 2)
    told = count > 1
    first = np.unique(cell, return_index=True)[1]
    return ScatterCells(
        settings=settings.rows(first[told]),
        variance=squares[told] / (count[told] - 1),
        df=(count[told] - 1).astype(np.float64),
        level=level,
    )
