"""What a plan could find before any run was made, in words for the report."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench import plan
from workbench.define.outcomes import Measured
from workbench.define.terms import MEAN
from workbench.errors import Unavailable
from workbench.plan.mixing import second_order_terms
from workbench.show.story import PlanFact

if TYPE_CHECKING:
    from workbench.define.terms import Term
    from workbench.plan.plans import Plan
    from workbench.steps.trials import OpenTrial

CHANCE_TO_FIND = 0.8  # the usual power at which a difference is called detectable
ALPHA = 0.05


def cannot_tell_apart(made: Plan | None) -> tuple[str, ...]:
    """Return the sums that the plan's estimates really hold, in the user's names."""
    if made is None:
        return ()
    found = plan.aliases(made.terms, made.settings)
    return tuple(str(one) for one in found if one.with_terms and one.term != MEAN)


def effects_of(made: Plan | None) -> tuple[Term, ...]:
    """Return all main effects, products of two and squares that a plan could be asked for."""
    if made is None:
        return ()
    return second_order_terms(made.settings.factors).terms


def detectable_for(opened: OpenTrial) -> str:
    """Return for which outcome and scatter the detectable differences hold; empty if none."""
    outcome = _planned_for(opened)
    if outcome is None or outcome.expected_sd is None or opened.plan is None:
        return ""
    sd = outcome.expected_sd
    size = f"×{sd:g}" if outcome.scale == "log" else f"{sd:g} {outcome.unit}".strip()
    return f"{outcome.name}, if runs scatter by {size}: found with 80 % chance"


def detectable(opened: OpenTrial) -> tuple[PlanFact, ...]:
    """Return the smallest difference by term that the plan finds with 80 % chance."""
    outcome, made = _planned_for(opened), opened.plan
    if outcome is None or outcome.expected_sd is None or made is None:
        return ()
    is_ratio = outcome.scale == "log"
    found = plan.detectable(
        made, sd=outcome.expected_sd, alpha=ALPHA, chance=CHANCE_TO_FIND, as_ratio=is_ratio
    )
    return tuple(
        PlanFact(
            term=str(one.term),
            difference=_difference(one.difference, outcome),
            error_df=str(one.error_df),
        )
        for one in found
    )


def _planned_for(opened: OpenTrial) -> Measured | None:
    """Return the first outcome whose scatter was stated before the trial."""
    for one in opened.trial.outcomes:
        if isinstance(one, Measured) and one.expected_sd is not None:
            return one
    return None


def _difference(size: float | Unavailable, outcome: Measured) -> str:
    if isinstance(size, Unavailable):
        return size.reason
    return f"×{size:.3g}" if outcome.scale == "log" else f"{size:.3g} {outcome.unit}".strip()
