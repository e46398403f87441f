"""Indices of capability and performance, with intervals (vocabulary of ISO 22514-1)."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.errors import Unavailable
from workbench.fit.requirement_on_scale import requirement_on_scale
from workbench.numerics.capability_limits import (
    nearest_limits,
    one_limit_limits,
    spread_index,
    spread_limits,
)
from workbench.numerics.steadiness import groups_differ, trends

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from workbench.define.outcomes import Measured

FEWEST_PARTS = 50  # from which stability is claimed: common practice (50 to 125), no source
UNLIKELY = 0.01  # p below which sittings are called different, or a run of parts a trend


@dataclass(frozen=True, slots=True, kw_only=True)
class Index:
    """Spread and position of parts against their limits, with intervals at `confidence`.

    `is_capability` is true only for a process shown to be stable; otherwise the numbers are
    performance indices, and `why` says so. `spread` (Cp or Pp) needs two limits; `nearest` (Cpk
    or Ppk) is that of the nearer limit: its interval is exact with one limit, that of Bissell
    (1990) with two.
    """

    is_capability: bool
    why: str
    spread: float | Unavailable
    spread_low: float | Unavailable
    spread_high: float | Unavailable
    nearest: float
    nearest_low: float
    nearest_high: float
    confidence: float
    n: int

    @property
    def spread_name(self) -> str:
        """What the spread index is called."""
        return "Cp" if self.is_capability else "Pp"

    @property
    def nearest_name(self) -> str:
        """What the index of the nearer limit is called."""
        return "Cpk" if self.is_capability else "Ppk"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stability:
    """Whether parts may be called draws of one stable process, and why or why not."""

    is_shown: bool
    why: str


def stability(
    scaled: NDArray[np.float64], sitting: NDArray[np.int64], *, is_production: bool
) -> Stability:
    """Return whether parts (n,) in run order, made in sittings (n,), show a stable process.

    Capability speaks of a process in statistical control alone (ISO 22514-2). That takes parts
    of two sittings or more that agree, no trend, and no fewer than fifty of them, at the
    settings of production.
    """
    doubts = []
    if not is_production:
        doubts.append("made at a corner of the window, where production does not run")
    if scaled.size < FEWEST_PARTS:
        doubts.append(f"{scaled.size} parts are too few to show that it is stable")
    if len(set(sitting.tolist())) < 2:
        doubts.append("all parts come from one sitting")
    if groups_differ(scaled, sitting) < UNLIKELY:
        doubts.append("the sittings differ more than parts within them")
    if trends(scaled) < UNLIKELY:
        doubts.append("the parts drift in their order")
    if doubts:
        return Stability(is_shown=False, why=f"performance, not capability: {'; '.join(doubts)}")
    return Stability(is_shown=True, why="capability: the sittings agree and nothing drifts")


def index(
    scaled: NDArray[np.float64], outcome: Measured, *, stable: Stability, confidence: float
) -> Index | Unavailable:
    """Return the indices of parts (n,) given on the outcome's scale, by their total scatter."""
    limits = requirement_on_scale(outcome)
    n = scaled.size
    if isinstance(limits, Unavailable):
        return limits
    if n < 2 or float(scaled.std(ddof=1)) <= 0:
        return Unavailable(reason="the plain readings show no scatter to hold against the limits")
    centre, sd = float(scaled.mean()), float(scaled.std(ddof=1))
    nearest = min(limits.high - centre, centre - limits.low) / (3 * sd)
    is_two_sided = math.isfinite(limits.low) and math.isfinite(limits.high)
    ends = (nearest_limits if is_two_sided else one_limit_limits)(
        nearest, n, confidence=confidence
    )
    none = Unavailable(reason="it takes two limits")
    spread = spread_index(limits.low, limits.high, sd) if is_two_sided else none
    about = (
        none
        if isinstance(spread, Unavailable)
        else spread_limits(spread, n, confidence=confidence)
    )
    return Index(
        is_capability=stable.is_shown,
        why=stable.why,
        spread=spread,
        spread_low=about if isinstance(about, Unavailable) else about.low,
        spread_high=about if isinstance(about, Unavailable) else about.high,
        nearest=nearest,
        nearest_low=ends.low,
        nearest_high=ends.high,
        confidence=confidence,
        n=n,
    )
