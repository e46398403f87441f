"""Limits of a variance, against another library."""

import pytest
from scipy import stats

from workbench.numerics.variance_limits import variance_limits


@pytest.mark.reference("scipy.stats")
@pytest.mark.parametrize("df", [1, 4, 28])
def test_chi_square_limits(df):
    found = variance_limits(2.5, df, confidence=0.9)
    assert found.low == pytest.approx(2.5 * df / stats.chi2.ppf(0.95, df))
    assert found.high == pytest.approx(2.5 * df / stats.chi2.ppf(0.05, df))
