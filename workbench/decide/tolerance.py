"""Tolerance statements: the values between which a stated share of parts lies."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import Unavailable
from workbench.fit.scales import off_scale, turns_round
from workbench.numerics.tolerance_factors import one_sided_factor, two_sided_factor

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.outcomes import Measured


@dataclass(frozen=True, slots=True, kw_only=True)
class ToleranceStatement:
    """With `confidence`, at least `share` of parts read from `low` to `high` (None: open).

    Ends are in the outcome's unit, found on the scale where its scatter is even.
    """

    share: float
    confidence: float
    low: float | None
    high: float | None
    factor: float
    n: int


def tolerance_statement(
    scaled: NDArray[np.float64], outcome: Measured, *, share: float, confidence: float
) -> ToleranceStatement | Unavailable:
    """Return the tolerance interval of parts (n,) given on the outcome's scale.

    One-sided where the outcome has one limit, else two-sided; exact for a normal scatter. On the
    scales other than "as read" an end that cannot be turned back is open.
    """
    n = scaled.size
    if n < 2:
        return Unavailable(reason=f"{n} plain readings show no scatter; it takes 2 or more")
    requirement = outcome.requirement
    low_wanted = requirement is None or requirement.low is not None
    high_wanted = requirement is None or requirement.high is not None
    kind = two_sided_factor if low_wanted and high_wanted else one_sided_factor
    factor = kind(n, share, confidence=confidence)
    centre, sd = float(scaled.mean()), float(scaled.std(ddof=1))
    ends = off_scale(np.array([centre - factor * sd, centre + factor * sd]), outcome.scale)
    low, high = ends[::-1] if turns_round(outcome.scale) else ends
    return ToleranceStatement(
        share=share,
        confidence=confidence,
        low=float(low) if low_wanted and np.isfinite(low) else None,
        high=float(high) if high_wanted and np.isfinite(high) else None,
        factor=factor,
        n=n,
    )
