"""Sizes of effects that plans find, written alike in tables, figures and on a terminal."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from workbench.show.numbers import fixed, ratio, with_unit

if TYPE_CHECKING:
    from workbench.plan.candidate_nouns import Aim


def found_size(aim: Aim, size: float) -> str:
    """Return a size in an outcome without its unit, three digits of what is worth finding.

    >>> from workbench.plan.candidate_nouns import Aim
    >>> found_size(Aim(outcome="pull", unit="N", sd=8, worth_finding=12), 17.0)
    '17.0'
    """
    if aim.as_ratio:
        return ratio(size, 2)
    scale = aim.sd if aim.worth_finding is None else aim.worth_finding
    return fixed(size, max(0, 2 - math.floor(math.log10(scale))))


def found_size_with_unit(aim: Aim, size: float) -> str:
    """Return a size in an outcome with its unit; a ratio has none."""
    return found_size(aim, size) if aim.as_ratio else with_unit(found_size(aim, size), aim.unit)
