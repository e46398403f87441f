"""The plan: a trial's runs in run order, their structure, and the recipe that made them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import PlanError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.settings import Settings
    from workbench.define.terms import Terms


# Runs that complete earlier ones: in a block of their own they are made after all others, so
# that the trial can stop before them.
ADDED_LATER = ("axial", "mirror")
CONFIRMATION = "confirmation"  # kind of a plan whose every part is set anew at chosen settings


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """How the runs were made: enough to make them again.

    `options` are (name, value as text) pairs such as ("centre points", "3"); `generators` the
    defining words of a fraction in factor names; `version` the workbench that made the plan.
    """

    kind: str
    options: tuple[tuple[str, str], ...]
    seed: int
    version: str
    resolution: int | None = None
    generators: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plan:
    """Runs in the order in which they are to be made; row i is run i + 1.

    `block` and `setup` (n,) number the blocks and the resets of slow factors from 1; `point`
    says what each run is for ("factorial", "axial", "edge", "mirror", "centre"). `standard`
    (n,) is the place of the run in the unshuffled array, so that the shuffle can be checked.
    `budget_parts` are the parts that the trial may use, None where nobody has said. `first_run`
    is the number of row 0: more than 1 in the later part of a plan, for which a run sheet of its
    own is printed.
    """

    settings: Settings
    block: NDArray[np.int64]
    setup: NDArray[np.int64]
    point: tuple[str, ...]
    standard: NDArray[np.int64]
    parts_per_run: int
    terms: Terms
    recipe: Recipe
    budget_parts: int | None = None
    first_run: int = 1

    def __post_init__(self) -> None:
        for array in (self.block, self.setup, self.standard):
            if array.shape != (len(self.settings),):
                raise PlanError(
                    f"{array.shape[0]} labels for {len(self.settings)} runs.",
                    why="Each run has one block, one setup and one place in the array.",
                    next_step="Make the plan again from its recipe.",
                )
            array.setflags(write=False)

    def __len__(self) -> int:
        return len(self.settings)

    @property
    def n_blocks(self) -> int:
        """Number of blocks."""
        return int(np.unique(self.block).size)

    @property
    def is_blocked(self) -> bool:
        """Whether the runs are in blocks, as those of a later part always are."""
        return self.n_blocks > 1 or self.first_run > 1

    def from_run(self, first: int) -> Plan:
        """Return the runs from number `first` on, for a run sheet of their own."""
        kept = slice(first - self.first_run, None)
        return replace(
            self,
            settings=self.settings.rows(np.arange(len(self))[kept]),
            block=self.block[kept],
            setup=self.setup[kept],
            point=self.point[kept],
            standard=self.standard[kept],
            first_run=first,
        )

    @property
    def closing_block(self) -> int | None:
        """The block that must come last, since its runs are added to those of the others."""
        last = int(self.block[-1])
        there = {p for p, block in zip(self.point, self.block, strict=True) if block == last}
        return last if self.n_blocks > 1 and not there.isdisjoint(ADDED_LATER) else None
