"""The confirmation: which parts are to be made where, and what was foreseen before they were."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from workbench.define.settings import Value
    from workbench.errors import Unavailable


class JudgedBy(StrEnum):
    """How parts are judged: each meets everything or not, or by how far inside it measures."""

    COUNTING = "counting"
    MEASURE = "measure"


@dataclass(frozen=True, slots=True, kw_only=True)
class Foreseen:
    """What is foreseen of one outcome at one place, in its unit; for pass/fail, as a share.

    `mean_low` to `mean_high` holds the mean of the process, `new_part_low` to `new_part_high`
    one new part, `parts_mean_low` to `parts_mean_high` the mean of the parts of this
    confirmation, each with `interval_confidence` of the plan; on a scale other than "as read"
    means are taken on that scale and turned back. `chance` is that of a part to meet the
    requirement; `requirement` that in words, with its unit. `may_fall_below` and
    `may_fall_above` are the parts of all parts that a judgement by measure allows beyond each
    limit; over all limits of a place they add up to one minus the share asked (None: no such
    limit, or parts are counted).
    """

    outcome: str
    unit: str
    requirement: str
    mean: float
    mean_low: float
    mean_high: float
    new_part_low: float | Unavailable
    new_part_high: float | Unavailable
    parts_mean_low: float | Unavailable
    parts_mean_high: float | Unavailable
    chance: float
    may_fall_below: float | None = None
    may_fall_above: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Settings at which parts are made: the set point, or a corner of the window that limits.

    `why` says what makes the corner a limiting one (empty for the set point). `parts` are made
    here; with counting, at most `failures_allowed` of them may miss a requirement (None: so few
    parts cannot show it even if none fails). `chance` and
    `assured_share` are those of a part to meet every requirement; `failures_low` to
    `failures_high` parts are foreseen to miss one. `chance_to_confirm` is the chance that these
    parts show what is asked here if the process is as foreseen.
    """

    name: str
    settings: tuple[tuple[str, Value], ...]
    why: str
    parts: int
    failures_allowed: int | None
    chance: float
    assured_share: float
    failures_low: int
    failures_high: int
    chance_to_confirm: float
    outcomes: tuple[Foreseen, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RestsOn:
    """A thing that the predictions rest on ("trial", "plan", "results", "fits"), by its digest."""

    what: str
    digest: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ConfirmationPlan:
    """A confirmation as it was locked before its first part was made.

    To be shown, at each place on its own: at least `share` of parts meet every requirement, with
    `confidence`. `sittings` say under which conditions the parts are made (fresh lot, other
    operator, other shift), one sentence a block of the run sheet. `number` says in sentences why
    so many parts, `fewer` what a smaller number could still show. `seed` starts the order of the
    runs, `model_form` is that of the window. `locked_at` (ISO 8601) and `locked_by` are empty
    until it is locked.
    """

    places: tuple[Place, ...]
    share: float
    confidence: float
    interval_confidence: float
    judged_by: JudgedBy
    sittings: tuple[str, ...]
    number: tuple[str, ...]
    fewer: tuple[str, ...]
    seed: int
    model_form: float
    rests_on: tuple[RestsOn, ...] = ()
    locked_at: str = ""
    locked_by: str = ""
    notes: tuple[str, ...] = ()

    @property
    def n_parts(self) -> int:
        """Parts at all places together."""
        return sum(one.parts for one in self.places)

    def place(self, name: str) -> Place | None:
        """Return the place of that name, None if there is none."""
        return next((one for one in self.places if one.name == name), None)
