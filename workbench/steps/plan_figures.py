"""Numbers that figures of a plan draw: what it finds, and how well it will know the mean."""

from __future__ import annotations

from math import log, sqrt
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import stdtrit

from workbench import plan
from workbench.define.outcomes import Measured
from workbench.errors import Unavailable
from workbench.show.chance_bars import ChanceRow, ChanceRows
from workbench.show.nouns import Runs
from workbench.show.precision_lines import HalfWidthMap
from workbench.steps.planning import ALPHA

if TYPE_CHECKING:
    from collections.abc import Mapping

    from workbench.define.settings import Value
    from workbench.define.trial import Trial
    from workbench.plan.plans import Plan

CHANCES = (0.5, 0.8, 0.95)
CONFIDENCE = 0.95
SCALES = ("as read", "log")


def chance_rows(made: Plan, outcome: Measured) -> ChanceRows | Unavailable:
    """Return what a plan finds of an outcome with chances of 50, 80 and 95 %, by main effect."""
    if outcome.expected_sd is None:
        return Unavailable(reason=f"state expected_sd of {outcome.name} in trial.toml")
    if outcome.scale not in SCALES:
        return Unavailable(
            reason=f"differences on the {outcome.scale} scale depend on where the outcome stands"
        )
    is_ratio, sd = outcome.scale == "log", outcome.expected_sd
    low, middle, high = (
        plan.detectable(made, sd=sd, alpha=ALPHA, chance=one, as_ratio=is_ratio) for one in CHANCES
    )
    slow = {factor.name for factor in made.settings.factors if factor.slow}
    return ChanceRows(
        outcome=outcome.name,
        unit=outcome.unit,
        is_ratio=is_ratio,
        sd=sd,
        worth_finding=outcome.worth_finding,
        alpha=ALPHA,
        chances=CHANCES,
        rows=tuple(
            ChanceRow(
                effect_of=str(b.term),
                low=a.difference,
                middle=b.difference,
                high=c.difference,
                is_slow=bool(slow & set(b.term.factors)),
            )
            for a, b, c in zip(low, middle, high, strict=True)
            if b.term.order == 1
        ),
    )


def known_chances(trial: Trial, made: Plan) -> tuple[ChanceRows, ...]:
    """Return what a plan finds of every outcome whose scatter is stated."""
    found = (chance_rows(made, one) for one in trial.outcomes if isinstance(one, Measured))
    return tuple(one for one in found if not isinstance(one, Unavailable))


def half_width_map(
    made: Plan, outcome: Measured, *, x: str, y: str, at: Mapping[str, Value] | None = None
) -> HalfWidthMap | Unavailable:
    """Return how well a plan will know the mean of an outcome over two numeric factors.

    Needed is a 95 % interval as wide as what is worth finding.
    """
    if any(factor.slow for factor in made.settings.factors):
        return Unavailable(reason="the scatter between resets of slow settings is not stated")
    error_df = plan.degrees_of_freedom(made).error
    if outcome.expected_sd is None or outcome.scale not in SCALES:
        return Unavailable(reason=f"state expected_sd of {outcome.name} in trial.toml")
    if error_df < 1:
        return Unavailable(reason="no run is left over for error; add replicates")
    drawn = plan.precision_map(made, x=x, y=y, at=at)
    is_ratio, sd, worth = outcome.scale == "log", outcome.expected_sd, outcome.worth_finding
    reach = float(stdtrit(error_df, (1 + CONFIDENCE) / 2)) * drawn.standard_error
    needed = None if worth is None else sqrt(worth) if is_ratio else worth / 2
    return HalfWidthMap(
        outcome=outcome.name,
        unit=outcome.unit,
        is_ratio=is_ratio,
        sd=sd,
        needed=needed,
        x_factor=drawn.x_factor,
        y_factor=drawn.y_factor,
        x=np.array(drawn.x),
        y=np.array(drawn.y),
        half_width=np.exp(reach * log(sd)) if is_ratio else reach * sd,
        held=drawn.held,
        runs=Runs(x=np.array(made.settings.column(x)), y=np.array(made.settings.column(y))),
    )
