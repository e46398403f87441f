"""What a comparison of plans says: a candidate with its price, what it finds and gives up."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, log
from typing import TYPE_CHECKING

from workbench.errors import Unavailable

if TYPE_CHECKING:
    from workbench.define.terms import Term
    from workbench.plan.mixing import Mixing
    from workbench.plan.plans import Plan
    from workbench.plan.power import Detectable

CLEAR = 0.1  # of a left-out effect: less than this in a main effect is passed over in the choice
APART = 0.57  # overlap of two effects in the model: 1 − 0.57² of the information is left, 2/3
REGION_SHARE = 0.9  # of the region in which the standard error stated is not exceeded


@dataclass(frozen=True, slots=True, kw_only=True)
class Aim:
    """Scatter assumed for an outcome, and the difference worth finding in it (None: not said).

    `sd` is between runs, `setup_sd` between resets of slow factors; all in the outcome's unit,
    with `as_ratio` as ratios.
    """

    outcome: str
    unit: str
    sd: float
    worth_finding: float | None = None
    as_ratio: bool = False
    setup_sd: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Detects:
    """What a plan finds of one outcome: the detectable difference of each term of its model."""

    aim: Aim
    terms: tuple[Detectable, ...]

    @property
    def worst_main_effect(self) -> float | Unavailable:
        """The largest detectable difference among the main effects."""
        sizes = [one.difference for one in self.terms if one.term.order == 1]
        for one in sizes:
            if isinstance(one, Unavailable):
                return one
        if not sizes:
            return Unavailable(reason="The model has no main effect.")
        return max(one for one in sizes if not isinstance(one, Unavailable))

    @property
    def finds(self) -> bool | None:
        """Whether every main effect worth finding is found; None where nobody said its size."""
        if self.aim.worth_finding is None:
            return None
        worst = self.worst_main_effect
        return not isinstance(worst, Unavailable) and worst <= self.aim.worth_finding


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaning:
    """The largest share of a left-out effect that goes into a main effect (coded units)."""

    main_effect: Term
    left_out: Term
    size: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Candidate:
    """A plan that fits the budget, with its price, what it finds and what it gives up.

    `carries` is the model that it tells apart with runs left for error. `leaning` is the worst
    that products and squares outside that model do to a main effect (None: nothing).
    `detectable_in_sd` is the largest detectable main effect in units of the sd (of runs and of
    resets alike; infinite where no error is left). `standard_error` is that of the mean in the
    same units, not exceeded in 90 % of the region.
    `why` says why it is recommended, or why it is not.
    """

    name: str
    plan: Plan
    parts: int
    resets: int
    days: float | Unavailable
    cost: float | Unavailable
    carries: str
    error_df: int
    detects: tuple[Detects, ...] | Unavailable
    mixing: Mixing
    leaning: Leaning | None
    detectable_in_sd: float
    standard_error: float
    gives_up: str
    recommended: bool = False
    why: str = ""

    def __repr__(self) -> str:
        star = ", recommended" if self.recommended else ""
        return f"Candidate({self.name!r}, {len(self.plan)} runs, {self.carries}{star})"

    @property
    def main_effects_are_clear(self) -> bool:
        """Whether main effects take up little of what is left out, and overlap little besides.

        That is less than a tenth of any product or square outside the model, and an overlap
        with those inside it that costs less than a third of the information.
        """
        leans = self.leaning is not None and abs(self.leaning.size) >= CLEAR
        return not leans and self.mixing.largest_on_main_effects() < APART

    @property
    def finds(self) -> bool | None:
        """Whether every main effect worth finding is found in every outcome that says its size."""
        if isinstance(self.detects, Unavailable):
            return None
        known = [one.finds for one in self.detects if one.finds is not None]
        return all(known) if known else None

    @property
    def shortfall(self) -> float:
        """Largest ratio of detectable to worth finding over outcomes; on log scales of logs."""
        if isinstance(self.detects, Unavailable):
            return 0.0
        return max((_shortfall(one) for one in self.detects), default=0.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Comparison:
    """Candidates, fewest runs first, and the plans that were looked at and left out, with reasons.

    `asked` is the model that the trial asks for; `is_assumed` says that the trial states none.
    `alpha` and `chance` are those of the detectable differences.
    """

    candidates: tuple[Candidate, ...]
    left_out: tuple[tuple[str, str], ...]
    asked: str
    is_assumed: bool
    alpha: float
    chance: float

    def __repr__(self) -> str:
        return f"Comparison({', '.join(one.name for one in self.candidates)})"

    @property
    def recommended(self) -> Candidate:
        """The candidate that is recommended."""
        return next(one for one in self.candidates if one.recommended)


def _shortfall(one: Detects) -> float:
    if one.aim.worth_finding is None:
        return 0.0
    worst = one.worst_main_effect
    if isinstance(worst, Unavailable):
        return inf
    if one.aim.as_ratio:
        return log(worst) / log(one.aim.worth_finding)
    return worst / one.aim.worth_finding
