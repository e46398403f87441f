"""Exact limits of a share."""

import numpy as np
import pytest
from scipy import stats

from workbench.numerics.exact_share import exact_share_limits


@pytest.mark.published(source="Clopper and Pearson (1934), Biometrika 26, 404-413, definition")
def test_limits_leave_the_chance_that_defines_them_in_each_tail():
    passed, tried = np.array([1.0, 4.0, 9.0]), np.array([12.0, 10.0, 10.0])
    found = exact_share_limits(passed, tried, confidence=0.95)
    np.testing.assert_allclose(stats.binom.sf(passed - 1, tried, found.low), 0.025, rtol=1e-9)
    np.testing.assert_allclose(stats.binom.cdf(passed, tried, found.high), 0.025, rtol=1e-9)


@pytest.mark.reference("scipy.stats.binomtest(k, n).proportion_ci(method='exact')")
@pytest.mark.parametrize("passed", [0, 3, 8])
def test_limits_are_those_of_another_library(passed):
    ours = exact_share_limits(np.array([float(passed)]), np.array([8.0]), confidence=0.9)
    theirs = stats.binomtest(passed, 8).proportion_ci(confidence_level=0.9, method="exact")
    assert ours.low[0] == pytest.approx(theirs.low, abs=1e-12)
    assert ours.high[0] == pytest.approx(theirs.high, abs=1e-12)
