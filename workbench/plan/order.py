"""Run order: shuffled by a seed, within blocks and within resets of slow settings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RunOrder:
    """Rows (n,) of an array in the order in which to run them, blocks and setups numbered anew."""

    rows: NDArray[np.intp]
    block: NDArray[np.int64]
    setup: NDArray[np.int64]


def run_order(
    block: NDArray[np.int64],
    reset: NDArray[np.int64],
    *,
    last_block: int | None,
    rng: np.random.Generator,
) -> RunOrder:
    """Return a random order of runs with labels `block` and `reset` (both (n,)).

    Blocks come in random order, save that `last_block` closes; the runs of one `reset` within
    a block stay together, these groups in random order and the runs in each in random order.
    Blocks and setups are numbered from 1 in the order of the runs.
    """
    blocks = rng.permutation(np.unique(block))
    if last_block is not None:
        blocks = np.append(blocks[blocks != last_block], last_block)
    setups = [
        rng.permutation(np.flatnonzero((block == one) & (reset == group)))
        for one in blocks
        for group in rng.permutation(np.unique(reset[block == one]))
    ]
    rows = np.concatenate(setups)
    renumbered = {int(one): i for i, one in enumerate(blocks, 1)}
    return RunOrder(
        rows=rows,
        block=np.array([renumbered[int(one)] for one in block[rows]], dtype=np.int64),
        setup=np.repeat(np.arange(1, len(setups) + 1), [len(one) for one in setups]),
    )


def resets(slow: NDArray[np.float64], replicate: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return which runs (n,) share one reset: same slow settings (n, s) and same replicate.

    Without slow factors each run is its own. A replicate resets anew, or the scatter between
    resets could never be seen.
    """
    if slow.shape[1] == 0:
        return np.arange(len(slow), dtype=np.int64)
    keys = np.column_stack([slow, replicate])
    return np.asarray(np.unique(keys, axis=0, return_inverse=True)[1], dtype=np.int64).ravel()
