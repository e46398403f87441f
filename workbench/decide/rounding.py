"""Rounding that a line can read and that never leaves the box."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.decide.region import Box
from workbench.define.factors import Stepped

if TYPE_CHECKING:
    from workbench.decide.region import Region
    from workbench.define.factors import Numeric

EASY = (1.0, 2.0, 5.0)
PARTS = 8  # a set point is rounded to an easy number no coarser than this part of its window


def resolution(factor: Numeric) -> float:
    """Return the step of limits: the third digit of the factor's range.

    Examples
    --------
    >>> from workbench.define.factors import Continuous
    >>> resolution(Continuous(name="bead volume", low=260, high=440, unit="mm³", setting_sd=4))
    1.0
    """
    return float(10.0 ** (np.floor(np.log10(factor.high - factor.low)) - 2))


def rounded_inward(region: Region, box: Box) -> Box | None:
    """Return the box with its limits rounded towards its inside; None if nothing is left."""
    low, high = box.low.copy(), box.high.copy()
    for j, axis in enumerate(region.axes):
        if isinstance(axis, Stepped):
            continue
        step = resolution(axis)
        low[j] = _multiple(np.ceil(low[j] / step - 1e-6), step)
        high[j] = _multiple(np.floor(high[j] / step + 1e-6), step)
        if not low[j] < high[j]:
            return None
    return Box(low=low, high=high)


def easy_value(factor: Numeric, value: float, *, low: float, high: float) -> float:
    """Return an easy number near the value, from low to high; a step if only steps can be set."""
    if isinstance(factor, Stepped):
        inside = [step for step in factor.steps if low <= step <= high]
        return min(inside, key=lambda step: abs(step - value))
    target = (high - low) / PARTS
    power = 10.0 ** np.floor(np.log10(target))
    unit = max(easy * power for easy in EASY if easy * power <= target * (1 + 1e-9))
    near = _multiple(np.round(value / unit), unit)
    return float(np.clip(near, low, high))


def _multiple(count: float, step: float) -> float:
    digits = int(max(0, 2 - np.floor(np.log10(step))))
    return round(float(count) * step, digits) + 0.0  # no minus before a zero
