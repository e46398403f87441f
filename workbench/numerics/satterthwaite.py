"""Satterthwaite's df for tests of fixed terms: the fallback where Kenward and Roger's fail."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.numerics.kenward_roger import (
    JointTest,
    each_df,
    f_tail,
    joint_square,
    single_tests,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.numerics.kenward_roger import (
        SingleTests,
    )
    from workbench.numerics.mixed_model import MixedSolution


def satterthwaite_each(fit: MixedSolution, combinations: NDArray[np.float64]) -> SingleTests:
    """Return the test of each row of `combinations` (k, p), variances as if known.

    Giesbrecht and Burns (1985), Biometrics 41, 477-486, with the observed information.
    """
    df = each_df(fit, combinations, _uncertainty(fit))
    return single_tests(fit.estimates, fit.covariance, (combinations, df))


def satterthwaite_joint(fit: MixedSolution, combinations: NDArray[np.float64]) -> JointTest:
    """Return the joint F of the rows (l, p), its df from their uncorrelated combinations.

    Fai and Cornelius (1996), Journal of Statistical Computation and Simulation 54, 363-378.
    """
    count = combinations.shape[0]
    own = combinations @ fit.covariance @ combinations.T
    _, vectors = np.linalg.eigh(own)
    apart = each_df(fit, vectors.T @ combinations, _uncertainty(fit))
    error_df = _pooled(apart)
    statistic = joint_square(fit.estimates, fit.covariance, combinations) / count
    p = f_tail(statistic, count, error_df)
    return JointTest(statistic=statistic, df=count, error_df=error_df, p=p)


def _uncertainty(fit: MixedSolution) -> NDArray[np.float64]:
    # At a component held at zero the observed information need not be that of a maximum.
    is_maximum = bool(np.linalg.eigvalsh(fit.information.observed)[0] > 0)
    return fit.information.uncertainty(observed=is_maximum)


def _pooled(df: NDArray[np.float64]) -> float:
    # The F whose mean is that of the sum of squared t: Σ ν/(ν − 2) = l·ν/(ν − 2).
    if np.ptp(df) < 1e-8 * df[0]:
        return float(df.mean())
    if (df <= 2).any():
        return 2.0
    total = float((df / (df - 2)).sum())
    return 2 * total / (total - df.size)
