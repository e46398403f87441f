"""Where a run sheet asks "was it reset?": slow settings that stay from one run to the next."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical

if TYPE_CHECKING:
    from workbench.plan.plans import Plan

ROUNDING = 1e-9  # relative to the range of a factor; settings this near are the same


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedResets:
    """A slow factor that stays over consecutive runs; `asked` (n,) says before which runs."""

    factor: str
    asked: tuple[bool, ...]


def reset_heading(factor: str) -> str:
    """Return the heading over the answers for one factor."""
    return f"{factor} reset?"


def asked_resets(plan: Plan) -> tuple[AskedResets, ...]:
    """Return the slow factors that a plan holds over consecutive runs, and where."""
    found = []
    for factor, values in zip(plan.settings.factors, plan.settings.values.T, strict=True):
        if not factor.slow:
            continue
        span = 0.0 if isinstance(factor, Categorical) else factor.high - factor.low
        stays = np.abs(np.diff(values)) <= ROUNDING * span
        if stays.any():
            found.append(AskedResets(factor=factor.name, asked=(False, *map(bool, stays))))
    return tuple(found)
