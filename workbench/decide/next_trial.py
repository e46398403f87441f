"""The next trial: runs that would help most, in a block of their own, or less scatter instead."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from workbench.define.settings import Settings, Value
    from workbench.errors import Unavailable


class Kind(StrEnum):
    """What a next trial consists of."""

    REPLICATES = "replicates"
    CORNERS = "corners"
    AXIAL = "axial"
    FOLD_OVER = "fold-over"
    FURTHER = "further"
    LESS_SCATTER = "less scatter"


class Obstacle(StrEnum):
    """What stands between these runs and a window, as far as can be told."""

    STRAIGHTNESS = "nothing was tried between two levels"
    MIXED = "terms of the model are one number"
    SCATTER_UNKNOWN = "too few runs are left to judge scatter by"
    MISFIT = "the model does not follow its runs"
    TOO_FEW_RUNS = "these runs are too few to promise it"
    MODEL_FORM = "the model form would have to be taken as right"
    PROCESS = "the process itself, as far as can be told"
    EDGE = "the window ends where the trial did"
    NOTHING = "nothing that runs could change"


@dataclass(frozen=True, slots=True, kw_only=True)
class Gain:
    """What the runs would change at one place, if the scatter stays as it is.

    `error_before` and `error_after` are standard errors of the fitted mean of `outcome`, in
    residual sd on the scale of its model. `margin` is how many sd of a new part the mean stands
    inside its nearest limit, less what setting error, model form and the other outcomes take;
    `needed_before` and `needed_after` are how many the promise asks for (tolerance factors). What
    is taken is held as it is, though runs between the levels would lessen the doubt of the form.
    """

    outcome: str
    error_before: float | Unavailable
    error_after: float | Unavailable
    margin: float | Unavailable
    needed_before: float | Unavailable
    needed_after: float | Unavailable


@dataclass(frozen=True, slots=True, kw_only=True)
class MovedRange:
    """A range that these runs go beyond: the factor, and low and high as they would be then."""

    factor: str
    low: float
    high: float
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NextTrial:
    """One candidate: why, what it can settle, its runs, and what it would change.

    `runs` (m, k) are settings of the planned factors, none where scatter is to be reduced
    instead; `point` (m,) says what each run is for. `why` says why it is, or is not, the one to
    take. `ranges` are those of the trial that would have to move with it.
    """

    kind: Kind
    reason: str
    settles: str
    runs: Settings
    point: tuple[str, ...]
    gain: Gain | Unavailable
    recommended: bool
    why: str
    ranges: tuple[MovedRange, ...] = ()

    def __len__(self) -> int:
        return len(self.runs)


@dataclass(frozen=True, slots=True, kw_only=True)
class NextTrials:
    """What to run next: the obstacle, the place looked at, candidates with the best first."""

    obstacle: Obstacle
    place: tuple[tuple[str, Value], ...]
    trials: tuple[NextTrial, ...]
