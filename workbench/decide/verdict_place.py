"""What the parts of one place say of the promise there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.decide.confirmation import JudgedBy
from workbench.decide.confirmation_normal import BELOW
from workbench.decide.verdict import Answer, SeenPlace
from workbench.decide.verdict_outcome import margins_seen, scaled, seen_outcome
from workbench.decide.verdict_words import place_reasons
from workbench.errors import Unavailable
from workbench.numerics.exact_share import exact_share_limits
from workbench.numerics.parts_to_show import at_most_failing, share_at_least, share_at_most
from workbench.numerics.steadiness import groups_differ, speaks_against_normal
from workbench.numerics.tolerance_factors import beyond_at_least, beyond_at_most

if TYPE_CHECKING:
    from workbench.decide.confirmation import ConfirmationPlan, Place
    from workbench.decide.verdict import Tally
    from workbench.decide.verdict_outcome import Scaled
    from workbench.decide.verdict_parts import OutcomeParts, PlaceParts

UNLIKELY = 0.01  # p below which parts speak against one normal process


@dataclass(frozen=True, slots=True, kw_only=True)
class _ByMeasure:
    """Share assured by measure, and the largest failing share that is certain at one limit."""

    assured: float
    failing_at_least: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Limit:
    """One limit: its distance in sd of n parts, and the part of all parts it may lose."""

    outcome: str
    in_sd: float
    n: int
    may_lose: float


def seen_place(plan: ConfirmationPlan, place: Place, parts: PlaceParts) -> SeenPlace:
    """Return the answer of one place, with what each outcome says there.

    It holds if the lower limit of the share, at the plan's confidence, reaches what is asked; it
    is refuted if the upper limit, at a confidence shared out over the places, stays below.
    """
    tally = parts.tally()
    counted_low = share_at_least(
        tally.planned - tally.met, tally.planned, confidence=plan.confidence
    )
    measured = _by_measure(parts, tally, plan=plan, place=place)
    shown = counted_low if isinstance(measured, Unavailable) else measured.assured
    if shown >= plan.share:
        answer = Answer.HOLDS
    elif _is_refuted(plan, tally, measured):
        answer = Answer.FAILS
    else:
        answer = Answer.OPEN
    judged_by = JudgedBy.COUNTING if isinstance(measured, Unavailable) else JudgedBy.MEASURE
    ends = exact_share_limits(
        np.array([float(tally.met)]), np.array([float(tally.planned)]), confidence=plan.confidence
    )
    outcomes = tuple(seen_outcome(one, parts, plan=plan, place=place) for one in parts.outcomes)
    found = SeenPlace(
        name=place.name,
        settings=place.settings,
        answer=answer,
        judged_by=judged_by,
        tally=tally,
        share_low=float(ends.low[0]),
        share_high=float(ends.high[0]),
        share_at_least=counted_low,
        by_measure=measured if isinstance(measured, Unavailable) else measured.assured,
        reasons=(),
        outcomes=outcomes,
    )
    return place_reasons(plan, place, found)


def _is_refuted(plan: ConfirmationPlan, tally: Tally, measured: _ByMeasure | Unavailable) -> bool:
    """Return whether the place is refuted, errors of all places and ways to judge shared out."""
    if not isinstance(measured, Unavailable):
        return measured.failing_at_least > 1 - plan.share
    sure = 1 - (1 - plan.confidence) / len(plan.places)
    failures = tally.failed + tally.lost
    return share_at_most(failures, tally.planned, confidence=sure) < plan.share


def _by_measure(
    parts: PlaceParts, tally: Tally, *, plan: ConfirmationPlan, place: Place
) -> _ByMeasure | Unavailable:
    """Return what the parts show by measure, or why they are counted instead."""
    if plan.judged_by is JudgedBy.COUNTING:
        return Unavailable(reason="the confirmation was planned to count parts")
    if tally.lost:
        return Unavailable(reason="parts were lost, and a lost part measures nothing")
    if tally.unknown:
        return Unavailable(reason="of some parts it is not known what they measure")
    limits: list[_Limit] = []
    for one in parts.outcomes:
        numbers = scaled(one, parts)
        doubt = numbers if isinstance(numbers, Unavailable) else _doubt(one, numbers)
        if isinstance(numbers, Unavailable) or doubt is not None:
            return doubt or Unavailable(reason="")
        limits += _limits(place, one, numbers)
    return _judged(plan, limits, tally)


def _doubt(one: OutcomeParts, numbers: Scaled) -> Unavailable | None:
    """Return why one outcome does not look like one normal process, or None."""
    name = one.outcome.name
    if numbers.sd <= 0:
        return Unavailable(reason=f"{name} shows no scatter at all: the gauge is too coarse")
    if speaks_against_normal(numbers.values) < UNLIKELY:
        return Unavailable(reason=f"the scatter of {name} does not look normal")
    if groups_differ(numbers.values, numbers.sitting) < UNLIKELY:
        return Unavailable(
            reason=f"the sittings differ in {name} more than parts within them, so the parts are "
            "not so many draws of one process"
        )
    return None


def _limits(place: Place, one: OutcomeParts, numbers: Scaled) -> list[_Limit]:
    foreseen = next(f for f in place.outcomes if f.outcome == one.outcome.name)
    found = []
    for side, in_sd in margins_seen(one, numbers):
        part = foreseen.may_fall_below if side == BELOW else foreseen.may_fall_above
        found.append(
            _Limit(
                outcome=one.outcome.name,
                in_sd=in_sd,
                n=numbers.values.size,
                may_lose=part or 0.0,
            )
        )
    return found


def _judged(
    plan: ConfirmationPlan, limits: list[_Limit], tally: Tally
) -> _ByMeasure | Unavailable:
    """Return the share assured with allowances that were fixed beforehand.

    The largest share S at which every limit, its allowance scaled to 1 − S, is kept with the
    plan's confidence. If more than 1 − S fail, some limit loses more than its allowance, and that
    one limit would have to be passed by chance: so all are judged at full confidence.
    """
    if any(one.may_lose <= 0 for one in limits):
        return Unavailable(reason="no allowance was locked for a limit")
    lost = [
        beyond_at_most(one.in_sd, one.n, confidence=plan.confidence) / one.may_lose
        for one in limits
    ]
    assured = 1 - min(1.0, max(lost) * (1 - plan.share))
    seen = at_most_failing(tally.failed - 1, tally.planned, np.array([1 - assured]))
    if tally.failed and 1 - float(seen[0]) < UNLIKELY:
        return Unavailable(
            reason=f"{tally.failed} of {tally.planned} parts failed, more than a normal scatter "
            "of these readings lets come"
        )
    sure = 1 - (1 - plan.confidence) / (len(plan.places) * len(limits))
    return _ByMeasure(
        assured=assured,
        failing_at_least=max(beyond_at_least(one.in_sd, one.n, confidence=sure) for one in limits),
    )
