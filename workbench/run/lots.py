"""Blocks as they were run against blocks as planned: a lot that changed on the way."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.run.finding import Finding, Kind, Weight
from workbench.run.order import was_made
from workbench.run.words import listed, run_words

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.run.record import Record


def lot_findings(record: Record) -> tuple[Finding, ...]:
    """Return planned blocks made with several lots, and lots that served several blocks."""
    plan = record.plan
    if plan is None:
        return ()
    inside = was_made(record) & (record.run >= 1) & (record.run <= len(plan))
    rows = np.flatnonzero(inside)
    planned = plan.block[record.run[rows] - 1]
    lots = record.block[rows]
    split = [
        _split(record, rows[planned == block], block=int(block), n_blocks=plan.n_blocks)
        for block in np.unique(planned)
        if np.unique(lots[planned == block]).size > 1
    ]
    shared = [
        _shared(record, rows[lots == lot], np.unique(planned[lots == lot]))
        for lot in np.unique(lots)
        if np.unique(planned[lots == lot]).size > 1
    ]
    return (*split, *shared)


def _what(record: Record) -> str:
    """Return what the names of the blocks name, as far as anybody said."""
    return record.blocked_by if record.blocked_by not in ("", "block") else "lot, shift or day"


def _split(record: Record, rows: NDArray[np.intp], *, block: int, n_blocks: int) -> Finding:
    what = _what(record)
    lots = record.block[rows]
    parts = [
        f"{record.block_labels[lot]} ({run_words(record.run[rows[lots == lot]].tolist())})"
        for lot in dict.fromkeys(lots.tolist())
    ]
    # The largest lot is what the block is; the others are what changed inside it.
    most = int(np.bincount(lots).argmax())
    where = f"Block {block} was" if n_blocks > 1 else "The runs, planned as one block, were"
    return Finding(
        kind=Kind.LOT_CHANGED,
        runs=tuple(record.run[rows[lots != most]].tolist()),
        about=what,
        sentence=f"{where} made with more than one {what}: {listed(parts)}.",
        next_step=f"The fit takes each as a block of its own; an effect that changed together "
        f"with the {what} can no longer be told from it.",
        weight=Weight.CHECK,
    )


def _shared(record: Record, rows: NDArray[np.intp], blocks: NDArray[np.int64]) -> Finding:
    what = _what(record)
    label = record.block_labels[int(record.block[rows[0]])]
    return Finding(
        kind=Kind.LOT_CHANGED,
        runs=tuple(record.run[rows].tolist()),
        about=what,
        sentence=f"{label} served more than one planned block: {listed(map(str, blocks))}.",
        next_step=f"Is it one {what}, or was a name written twice? The fit takes it as one block.",
        weight=Weight.ASK,
    )
