"""Whether one slope serves all thresholds: a score test, and the slopes threshold by threshold."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import chdtrc

from workbench.numerics.ordered_likelihood import grades, point, slope
from workbench.numerics.proportional_odds import proportional_odds

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.numerics.proportional_odds import OrderedSolution


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ProportionalityTest:
    """Score statistic, degrees of freedom and p for slopes of their own at each threshold."""

    statistic: float
    df: int
    p: float


def proportionality(
    solution: OrderedSolution, places: NDArray[np.intp]
) -> ProportionalityTest | None:
    """Return the test that the slopes at `places` are the same at all thresholds.

    The efficient score of a model with slopes of their own there, on the expected information
    (Peterson and Harrell 1990, Applied Statistics 39, 205-217). None with two grades, where
    there is one threshold only, or where the information cannot carry it.
    """
    data, m = solution.data, solution.data.n_thresholds
    if m < 2 or places.size == 0:
        return None
    extra = np.zeros((len(data.X), m, (m - 1) * places.size))
    for k in range(1, m):
        columns = slice((k - 1) * places.size, k * places.size)
        extra[:, k, columns] = -data.X[:, places]
    wide = replace(data, ways=np.concatenate([data.ways, extra], axis=2))
    here = point(wide, np.append(solution.parameters, np.zeros(extra.shape[2])), weight=0.0)
    return _scored(slope(wide, here, weight=0.0), here.information, solution.parameters.size)


def slopes_by_threshold(solution: OrderedSolution) -> NDArray[np.float64]:
    """Return slopes (m, p) of a penalised logistic regression at each threshold alone."""
    data = solution.data
    found = []
    for k in range(data.n_thresholds):
        above = (data.grade > k).astype(np.int64)
        found.append(proportional_odds(grades(data.X, above)).slopes)
    return np.array(found)


def _scored(
    score: NDArray[np.float64], information: NDArray[np.float64], n_known: int
) -> ProportionalityTest | None:
    known, more = slice(None, n_known), slice(n_known, None)
    carried = np.linalg.solve(information[known, known], information[known, more])
    left = information[more, more] - information[more, known] @ carried
    values, vectors = np.linalg.eigh(left)
    told = values > 1e-8 * max(float(values.max()), 1e-300)
    if not told.any():
        return None
    efficient = vectors[:, told].T @ (score[more] - carried.T @ score[known])
    statistic, df = float((efficient**2 / values[told]).sum()), int(told.sum())
    return ProportionalityTest(statistic=statistic, df=df, p=float(chdtrc(df, statistic)))
