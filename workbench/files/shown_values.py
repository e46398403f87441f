"""How one setting or reading is written in a table."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from workbench.define.factors import Categorical
from workbench.define.outcomes import Graded, PassFail

if TYPE_CHECKING:
    from workbench.define.factors import Factor
    from workbench.define.outcomes import Outcome


def shown_setting(factor: Factor, value: float) -> float | str:
    """Return a setting as a number or the name of its level; empty if it is not known."""
    if not math.isfinite(value):
        return ""
    return factor.levels[int(value)] if isinstance(factor, Categorical) else float(value)


def shown_reading(outcome: Outcome, value: float, mark: int) -> float | str:
    """Return a reading as a number, with its mark if it is cut off, or as its word."""
    if isinstance(outcome, PassFail):
        return outcome.passes if value == 1 else outcome.fails
    if isinstance(outcome, Graded):
        return outcome.grades[int(value)]
    if mark:
        return f"{'<' if mark < 0 else '>'}{value!r}"
    return float(value)
