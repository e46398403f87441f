"""Points that no other beats in everything, and one direction that serves several aims."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray


def non_dominated(values: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Return which rows (n,) no other row equals or exceeds in every column and exceeds in one.

    `values` (n, m), more is better in each column (the efficient points of Koopmans 1951,
    Activity Analysis of Production and Allocation, ch. III).

    Examples
    --------
    >>> non_dominated(np.array([[1.0, 3.0], [2.0, 2.0], [1.0, 2.0]]))
    array([ True,  True, False])
    """
    order = np.lexsort(tuple(-values[:, j] for j in reversed(range(values.shape[1]))))
    kept: list[int] = []
    front = np.empty((0, values.shape[1]))
    # Best first in column one, so that only what stands already can beat what comes.
    for i in order:
        row = values[i]
        beaten = (front >= row).all(axis=1) & (front > row).any(axis=1)
        if not beaten.any():
            kept.append(int(i))
            front = np.vstack([front, row])
    mask = np.zeros(len(values), dtype=bool)
    mask[kept] = True
    return mask


def joint_direction(
    slopes: NDArray[np.float64], priorities: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the unit direction (k,) that serves several aims, slopes (m, k) rising towards each.

    Each slope is taken to length 1 and weighted by its priority (NIST/SEMATECH e-Handbook,
    section 5.5.3.2.1). Zero where they cancel out.
    """
    lengths = np.linalg.norm(slopes, axis=1)
    units = slopes / np.where(lengths > 0, lengths, 1.0)[:, None]
    joint = priorities @ units
    size = np.linalg.norm(joint)
    return np.asarray(joint / size if size > 0 else joint)
