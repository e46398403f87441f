"""How much more than by chance counts of passes scatter between groups of parts."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

LEAST_TILT = -0.7  # below it the correction would blow up on very few failures


def pass_dispersion(
    seen: tuple[NDArray[np.float64], NDArray[np.float64]],
    rates: NDArray[np.float64],
    *,
    group: NDArray[np.int64],
    n_columns: int,
) -> float:
    """Return Pearson's dispersion of groups (n,) of passes and parts about rates (n,), corrected.

    Fletcher (2012), Biometrika 99, 230-237: Pearson's statistic over its degrees of freedom
    (groups − columns), divided by one plus the mean over groups of (1 − 2p)(y − mp) / (mp(1 − p)),
    which steadies it where failures are few. 1 where groups differ by chance alone.
    """
    passed, parts = seen
    _, of = np.unique(group, return_inverse=True)
    of = of.reshape(-1)
    variance = parts * rates * (1 - rates)
    excess = np.bincount(of, weights=passed - parts * rates)
    chance = np.bincount(of, weights=variance)
    lean = np.bincount(of, weights=variance * (1 - 2 * rates))
    tilt = float(np.mean(lean * excess / chance**2))
    pearson = float((excess**2 / chance).sum()) / (chance.size - n_columns)
    return pearson / (1 + max(tilt, LEAST_TILT))
