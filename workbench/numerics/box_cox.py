"""The power of an outcome in a linear model (Box and Cox 1964, J. R. Stat. Soc. B 26, 211-252)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import brentq, minimize_scalar
from scipy.special import boxcox, chdtri

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from workbench.numerics.least_squares import Factored

WIDEST = 10.0  # powers beyond this say only that the readings span too little to tell
LIKELIHOOD_DROP = float(chdtri(1, 0.05)) / 2  # half the 95 % point of chi-square on 1 df


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerProfile:
    """Power of largest likelihood and its 95 % interval; an end is None beyond ±10."""

    best: float
    low: float | None
    high: float | None


def profile_log_likelihood(whole: Factored, outcome: NDArray[np.float64], power: float) -> float:
    """Return the profile log-likelihood of one power for a positive outcome (n,).

    It is −n/2 · log RSS of (y^λ − 1) / (λ g^(λ − 1)), g the geometric mean; constants left out.
    """
    # Divided by g first: the likelihood only shifts by a constant, and no power overflows.
    relative = outcome / np.exp(np.log(outcome).mean())
    changed = np.asarray(boxcox(relative, power))
    residuals = changed - whole.Q @ (whole.Q.T @ changed)
    return float(-outcome.size / 2 * np.log(residuals @ residuals))


def power_profile(whole: Factored, outcome: NDArray[np.float64]) -> PowerProfile:
    """Return the best power in [−10, 10] and where the likelihood has dropped by χ²(0.95, 1)/2.

    The outcome (n,) is positive and not met exactly by the model.
    """

    def likelihood(power: float) -> float:
        return profile_log_likelihood(whole, outcome, power)

    grid = np.linspace(-WIDEST, WIDEST, 41)
    start = int(np.argmax([likelihood(power) for power in grid]))
    around = (grid[max(start - 1, 0)], grid[min(start + 1, grid.size - 1)])
    found = minimize_scalar(
        lambda power: -likelihood(power), bounds=around, method="bounded", options={"xatol": 1e-9}
    )
    best = float(found.x)
    floor = likelihood(best) - LIKELIHOOD_DROP
    return PowerProfile(
        best=best,
        low=_crossing(likelihood, floor, (best, -WIDEST)),
        high=_crossing(likelihood, floor, (best, WIDEST)),
    )


def _crossing(
    likelihood: Callable[[float], float], floor: float, ends: tuple[float, float]
) -> float | None:
    inner, outer = ends
    if likelihood(outer) >= floor:
        return None
    root = brentq(lambda power: likelihood(power) - floor, inner, outer, xtol=1e-9)
    return float(root)
