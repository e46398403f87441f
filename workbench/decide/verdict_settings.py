"""Whether the parts of a confirmation were made at the settings that were locked."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.special import ndtri

from workbench.define.factors import Categorical, Role
from workbench.errors import DecisionError
from workbench.run.record import Status

if TYPE_CHECKING:
    from workbench.decide.confirmation import ConfirmationPlan
    from workbench.define.factors import Factor
    from workbench.define.settings import Value
    from workbench.run.record import Record

CHANCE = 0.05  # of calling a well-held confirmation off plan, over all its settings
ROUNDING = 1e-6  # relative to the range of a factor that is stated to be held exactly
MOST_NAMED = 4


def check_settings(plan: ConfirmationPlan, record: Record) -> None:
    """Refuse parts that were made at other settings than those locked.

    A setting read off the machine may differ from the one locked by what the factor's
    `setting_sd` explains, over all settings of the confirmation together.

    Raises
    ------
    DecisionError
        If some part was.
    """
    off = [words for i in range(len(record)) for words in _off(plan, record, i)]
    if not off:
        return
    more = f"; and {len(off) - MOST_NAMED} more" if len(off) > MOST_NAMED else ""
    raise DecisionError(
        f"Parts were made at other settings than planned: {'; '.join(off[:MOST_NAMED])}{more}.",
        why="What was foreseen and locked holds for the planned settings alone, so these parts "
        "confirm nothing.",
        next_step="Make those parts again at the planned settings and enter them under the same "
        "run numbers, with the reason; or lock a new confirmation for the settings you mean to "
        "use.",
    )


def _off(plan: ConfirmationPlan, record: Record, i: int) -> list[str]:
    """Return in words the settings of one run that are off."""
    run = int(record.run[i])
    points = () if record.plan is None else record.plan.point
    place = plan.place(points[run - 1]) if 1 <= run <= len(points) else None
    if place is None or record.status[i] is not Status.DONE:
        return []
    planned = dict(place.settings)
    far = float(-ndtri(CHANCE / 2 / record.as_run.values.size))
    return [
        f"run {run} at {_shown(factor, float(value))}, planned {planned[factor.name]}"
        for factor, value in zip(record.trial.factors, record.as_run.values[i], strict=True)
        if factor.name in planned
        and _is_off(factor, float(value), planned=planned[factor.name], far=far)
    ]


def _is_off(factor: Factor, as_run: float, *, planned: Value, far: float) -> bool:
    if not np.isfinite(as_run) or factor.role is not Role.CONTROL:
        return False
    if isinstance(factor, Categorical):
        return factor.index(str(planned)) != int(as_run)
    slack = max(far * (factor.setting_sd or 0.0), ROUNDING * (factor.high - factor.low))
    return abs(as_run - float(planned)) > slack


def _shown(factor: Factor, value: float) -> str:
    if isinstance(factor, Categorical):
        return f"{factor.name} {factor.levels[int(value)]}"
    return f"{factor.name} {value:g}{f' {factor.unit}' if factor.unit else ''}"
