"""Whether the runs themselves can show that lines between two levels are straight."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical
from workbench.fit.left_out import is_tried_between

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.settings import Settings


def two_level_factors(settings: Settings) -> tuple[str, ...]:
    """Return the numeric factors that were tried at their two ends only.

    A window between two levels rests on a straight line that such runs cannot check; one run
    between them, such as a centre point, can.
    """
    numeric = [f.name for f in settings.factors if not isinstance(f, Categorical)]
    return tuple(name for name in numeric if _has_two_ends_only(settings.column(name)))


def _has_two_ends_only(column: NDArray[np.float64]) -> bool:
    known = column[np.isfinite(column)]
    if known.size == 0 or known.min() == known.max():
        return False
    return not is_tried_between(known)
