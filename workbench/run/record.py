"""The record: what was set and what was seen, run by run, part by part."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import RecordError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from workbench.define.settings import Settings
    from workbench.define.trial import Trial
    from workbench.plan.plans import Plan
    from workbench.run.beside import Attached, Confirmed, Correction

RESET_UNSAID, NOT_RESET, WAS_RESET = -1, 0, 1


class Status(StrEnum):
    """What became of a run; `missing` means planned but nothing was recorded."""

    DONE = "done"
    FAILED = "failed"
    EXCLUDED = "excluded"
    REPEATED = "repeated"
    MISSING = "missing"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Readings:
    """Readings (m,) of one outcome.

    `row` is the index of the run's row in the record, `part` and `reading` count from 1 within
    run and part. `value` is the number in the outcome's unit (for pass/fail 1 is pass, for
    grades the index of the grade). `mark` is 0 for a plain reading, −1 for "below value"
    (such as <0.02), +1 for "above value" (such as >250).
    """

    row: NDArray[np.int64]
    part: NDArray[np.int64]
    reading: NDArray[np.int64]
    value: NDArray[np.float64]
    mark: NDArray[np.int64]

    def __post_init__(self) -> None:
        for array in (self.row, self.part, self.reading, self.value, self.mark):
            array.setflags(write=False)

    def __len__(self) -> int:
        return int(self.value.size)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Record:
    """What happened: one row a run, in the order in which the runs were made.

    `run` (n,) are the run numbers, `planned` the settings asked for (None if no plan exists),
    `as_run` those that were really set. `block` (n,) indexes `block_labels`; `setup` (n,)
    numbers resets of slow settings. `reason` says why a run is not simply done. `blocked_by`
    names what the blocks are (such as "housing lot"; empty if the trial is one block).
    `resets` (n, k) answers "was the setting taken away and set anew before this run?": 1 yes,
    0 no, −1 nobody said. `made_at` is when each run was made and `entered` when it was first
    entered (ISO 8601; empty strings where not known, no strings at all if nothing is).
    """

    trial: Trial
    plan: Plan | None
    run: NDArray[np.int64]
    planned: Settings | None
    as_run: Settings
    block: NDArray[np.int64]
    block_labels: tuple[str, ...]
    setup: NDArray[np.int64]
    status: tuple[Status, ...]
    reason: tuple[str, ...]
    readings: Mapping[str, Readings]
    blocked_by: str = ""
    notes: tuple[str, ...] = field(default=())
    resets: NDArray[np.int64] = field(default_factory=lambda: np.zeros((0, 0), dtype=np.int64))
    attachments: tuple[Attached, ...] = ()
    corrections: tuple[Correction, ...] = ()
    confirmed: tuple[Confirmed, ...] = ()
    made_at: tuple[str, ...] = ()
    entered: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        n = len(self.as_run)
        if self.resets.size == 0:
            unsaid = np.full(self.as_run.values.shape, RESET_UNSAID, dtype=np.int64)
            object.__setattr__(self, "resets", unsaid)
        self.resets.setflags(write=False)
        for array in (self.run, self.block, self.setup):
            if array.shape != (n,):
                raise RecordError(
                    f"{array.size} labels for {n} runs.",
                    why="Each run has one number, one block and one setup.",
                    next_step="Take the results in again.",
                )
            array.setflags(write=False)
        for number, status, reason in zip(self.run, self.status, self.reason, strict=True):
            if status is Status.EXCLUDED and not reason.strip():
                raise RecordError(
                    f"Run {number} is excluded without a reason.",
                    why="A run left out after looking can turn any result.",
                    next_step=f'Say why: --exclude {number}="…".',
                )
        object.__setattr__(self, "readings", MappingProxyType(dict(self.readings)))

    def __len__(self) -> int:
        return len(self.as_run)

    def used(self) -> NDArray[np.bool_]:
        """Return which rows (n,) count: done, with every setting known."""
        done = np.array([status is Status.DONE for status in self.status], dtype=np.bool_)
        return done & np.isfinite(self.as_run.values).all(axis=1)
