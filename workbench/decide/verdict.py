"""The verdict: what a confirmation says of the window that it was made for."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from workbench.decide.capability import Index
    from workbench.decide.confirmation import JudgedBy
    from workbench.decide.tolerance import ToleranceStatement
    from workbench.define.settings import Value
    from workbench.errors import Unavailable


class Answer(StrEnum):
    """The three things that a confirmation can say."""

    HOLDS = "holds"
    FAILS = "does not hold"
    OPEN = "too few parts to say"


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """Parts of a place: `planned` = `met` + `failed` + `lost` + `unknown`.

    `failed` were read and miss a requirement, `lost` broke or could not be made, of `unknown`
    it cannot be told (not recorded, left out by hand, or cut off by the gauge). Failed and lost
    count against the window; unknown ones count against it when it is to hold, and for it when
    it is to be refused.
    """

    planned: int
    met: int
    failed: int
    lost: int
    unknown: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenOutcome:
    """What the parts of one place say of one outcome.

    `values` are the plain readings of its parts in the outcome's unit (1 and 0 for pass and
    fail), in run order. `mean_as_foreseen` tells whether their mean lies in the interval that
    was locked for it. `tolerance` and `index` are Unavailable where the outcome is not measured,
    readings are cut off, or there are too few.
    """

    outcome: str
    unit: str
    tally: Tally
    values: tuple[float, ...]
    mean: float | Unavailable
    sd: float | Unavailable
    mean_as_foreseen: bool | Unavailable
    tolerance: ToleranceStatement | Unavailable
    index: Index | Unavailable
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenPlace:
    """What the parts of one place say of the promise there.

    `share_low` to `share_high` is the exact two-sided interval of the share that meets every
    requirement (Clopper and Pearson) at the plan's confidence, `share_at_least` its one-sided
    lower limit; `by_measure` the share assured by how far inside the parts measure (Unavailable
    where parts are counted). The verdict rests on `shown`: the one of the two that the plan
    chose, or the count where it had to be taken instead.
    """

    name: str
    settings: tuple[tuple[str, Value], ...]
    answer: Answer
    judged_by: JudgedBy
    tally: Tally
    share_low: float
    share_high: float
    share_at_least: float
    by_measure: float | Unavailable
    reasons: tuple[str, ...]
    outcomes: tuple[SeenOutcome, ...]

    @property
    def shown(self) -> float:
        """The share that these parts show, with the plan's confidence."""
        if self.judged_by == "measure" and isinstance(self.by_measure, float):
            return self.by_measure
        return self.share_at_least


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What the confirmation says: it holds, does not hold, or the parts are too few to say.

    It holds if every place holds (an intersection-union test: Berger 1982, Technometrics 24,
    295-300), does not hold if some place is refuted. `to_do` says what to do now, `changed` what
    was changed since the predictions were locked; both in sentences.
    """

    answer: Answer
    share: float
    confidence: float
    places: tuple[SeenPlace, ...]
    reasons: tuple[str, ...]
    to_do: tuple[str, ...]
    changed: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
