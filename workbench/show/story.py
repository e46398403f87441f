"""The story of a trial: what a report tells, each chapter optional until it has happened."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.errors import Unavailable

if TYPE_CHECKING:
    from workbench.decide import AssuranceCurve, ChanceMap, WhatIf
    from workbench.decide.confirmation import ConfirmationPlan
    from workbench.decide.next_trial import NextTrials
    from workbench.decide.verdict import Verdict
    from workbench.decide.windows import Decision
    from workbench.define.terms import Term
    from workbench.define.trial import Trial
    from workbench.fit.faces import Fit
    from workbench.fit.scatter import ScatterFit
    from workbench.fit.second_order import LevelPoint
    from workbench.fit.selection import Selection
    from workbench.fit.sensitivity import Sensitivity
    from workbench.fit.together import Shared, TradeOff
    from workbench.plan.candidate_nouns import Comparison
    from workbench.plan.margin import Margin
    from workbench.plan.mixing import Mixing
    from workbench.plan.plans import Plan
    from workbench.run import Deviation, Finding
    from workbench.run.record import Record
    from workbench.show.chance_bars import ChanceRows
    from workbench.show.nouns import Lines, MeanMap


@dataclass(frozen=True, slots=True, kw_only=True)
class Promise:
    """What the window promises for one outcome: shares of new parts between 0 and 1.

    `lowest` is the assured share at the worst place in the window. The last promise of a story,
    with an empty `outcome`, is for all requirements together.
    """

    outcome: str
    at_set_point: float
    lowest: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Decided:
    """A decision of the team: what, by whom, when, on which evidence."""

    what: str
    by: tuple[str, ...] = ()
    date: str = ""
    evidence: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanFact:
    """What the plan can find for one term: its smallest detectable difference in words."""

    term: str
    difference: str
    error_df: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AskedAgain:
    """What becomes of one outcome's conclusion when it is asked in other ways.

    `sensitivity` holds the other fits, `selection` ranks the terms (None: not of this kind of
    fit), `spread` says which settings change the scatter.
    """

    outcome: str
    sensitivity: Sensitivity | None = None
    selection: Selection | Unavailable | None = None
    spread: ScatterFit | Unavailable | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shape:
    """Where one outcome's second-order fit is level, at the named levels of categories."""

    outcome: str
    levels: tuple[tuple[str, str], ...]
    point: LevelPoint


@dataclass(frozen=True, slots=True, kw_only=True)
class Several:
    """What settings do to several outcomes at once, and the scatter that outcomes share."""

    trade_offs: tuple[TradeOff, ...]
    shared: tuple[Shared, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """The confirmation of the window: the trial of its parts, what was locked, the verdict."""

    trial: Trial
    plan: ConfirmationPlan
    verdict: Verdict | Unavailable


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Story:
    """Everything a report may tell; what has not happened is None or empty.

    `fits` holds one entry an outcome: its fit, or why there is none. `fits_with_excluded` are
    the same with excluded runs put back, so that both answers stand in the report.
    `detectable` and `cannot_tell_apart` assess the plan, `mixing` of `plan_effects` and
    `chances_to_detect` as figures; `comparison` holds it against its alternatives,
    `margin` is what it needs to give a window at all. `assurance` and `what_if` are what was
    asked beside the window.
    `findings` are what happened to the runs that a reader should know.
    `asked_again` and `shapes` hold an entry for an outcome where there is something to say,
    `several` what outcomes have to do with one another.
    `proof` is the confirmation of the window, None if none is locked.
    `written` is when and with which version the report was made, in words.
    """

    trial: Trial
    plan: Plan | None = None
    detectable: tuple[PlanFact, ...] = ()
    detectable_for: str = ""
    cannot_tell_apart: tuple[str, ...] = ()
    mixing: Mixing | None = None
    plan_effects: tuple[Term, ...] = ()
    chances_to_detect: tuple[ChanceRows, ...] = ()
    comparison: Comparison | None = None
    margin: Margin | Unavailable | None = None
    assurance: AssuranceCurve | None = None
    what_if: WhatIf | None = None
    record: Record | None = None
    deviations: tuple[Deviation, ...] = ()
    findings: tuple[Finding, ...] = ()
    fits: tuple[tuple[str, Fit | Unavailable], ...] = ()
    fits_with_excluded: tuple[tuple[str, Fit | Unavailable], ...] = ()
    lines: tuple[Lines, ...] = ()
    mean_maps: tuple[MeanMap, ...] = ()
    asked_again: tuple[AskedAgain, ...] = ()
    shapes: tuple[Shape, ...] = ()
    several: Several | None = None
    decision: Decision | Unavailable | None = None
    decision_with_excluded: Decision | Unavailable | None = None
    next_trials: NextTrials | Unavailable | None = None
    chance_maps: tuple[ChanceMap, ...] = ()
    promises: tuple[Promise, ...] = ()
    proof: Proof | None = None
    not_tested: tuple[str, ...] = ()
    decisions: tuple[Decided, ...] = ()
    questions: tuple[Decided, ...] = ()
    written: str = ""

    def fit_of(self, outcome: str) -> Fit | Unavailable:
        """Return the fit of an outcome, or why there is none."""
        for name, one in self.fits:
            if name == outcome:
                return one
        return Unavailable(reason="nothing has been fitted yet")
