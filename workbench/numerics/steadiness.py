"""Whether parts look like draws from one normal process: groups, trend, shape."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.special import fdtrc, stdtr

if TYPE_CHECKING:
    from numpy.typing import NDArray

FEWEST = 8  # values below which rank correlation and shape tell nothing


def groups_differ(values: NDArray[np.float64], group: NDArray[np.int64]) -> float:
    """Return p of the one-way F test that groups (n,) of values (n,) have one mean.

    1 where there are not two groups with a scatter to judge them by.
    """
    labels, of = np.unique(group, return_inverse=True)
    count = np.bincount(of)
    error_df = values.size - labels.size
    if labels.size < 2 or error_df < 1:
        return 1.0
    means = np.bincount(of, weights=values) / count
    within = float(((values - means[of]) ** 2).sum())
    between = float((count * (means - values.mean()) ** 2).sum())
    if within <= 0:
        return 1.0 if between <= 0 else 0.0
    ratio = between / (labels.size - 1) / (within / error_df)
    return float(fdtrc(labels.size - 1, error_df, ratio))


def trends(values: NDArray[np.float64]) -> float:
    """Return p of a trend of values (n,) in their order, 1 below 8 values.

    Spearman's rank correlation with its approximation by Student's t (Kendall and Gibbons 1990,
    Rank Correlation Methods, section 4.14).
    """
    from scipy.stats import rankdata  # noqa: PLC0415 (takes a second to load, seldom needed)

    n = values.size
    ranks = rankdata(values)
    if n < FEWEST or np.ptp(ranks) == 0:
        return 1.0
    r = float(np.corrcoef(ranks, np.arange(n))[0, 1])
    t = abs(r) * np.sqrt((n - 2) / max(1 - r * r, 1e-12))
    return float(2 * stdtr(n - 2, -t))


def speaks_against_normal(values: NDArray[np.float64]) -> float:
    """Return p of the test of a normal shape by Shapiro and Wilk, 1 below 8 values.

    Shapiro and Wilk (1965), Biometrika 52, 591-611.
    """
    from scipy.stats import shapiro  # noqa: PLC0415 (takes a second to load, seldom needed)

    if values.size < FEWEST or np.ptp(values) == 0:
        return 1.0
    return float(shapiro(values).pvalue)
