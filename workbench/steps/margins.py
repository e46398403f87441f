"""The margin that a plan needs to give a window at all, where the trial asks for one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench import plan
from workbench.define.outcomes import Measured, is_judged

if TYPE_CHECKING:
    from workbench.define.trial import Trial
    from workbench.errors import Unavailable
    from workbench.plan.margin import Margin
    from workbench.plan.plans import Plan


def margin_of(trial: Trial, made: Plan | None) -> Margin | Unavailable | None:
    """Return the margin that the plan needs, or why it cannot be told.

    None where the question does not arise: no plan, no share or confidence stated, no measured
    outcome with a requirement.
    """
    judged = [one for one in trial.outcomes if isinstance(one, Measured) and is_judged(one)]
    if made is None or not judged or trial.share is None or trial.confidence is None:
        return None
    return plan.margin(made, share=trial.share, confidence=trial.confidence)
