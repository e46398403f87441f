"""Exact binomial statements against the e-Handbook's example and the success-run relation.

Of the published folder, score intervals and normal-approximation sample sizes are not used here:
the workbench has the exact answers alone.
"""

import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom

from workbench.files.evidence import published
from workbench.numerics.exact_share import exact_share_limits
from workbench.numerics.parts_to_show import (
    at_most_failing,
    failures_allowed,
    parts_with_failures,
    parts_without_failure,
    share_at_least,
    share_at_most,
)

CHECK = published("binomial-exact-and-sample-size")
TWO_SIDED = CHECK.tables["data"]


@pytest.mark.published(source=CHECK.source)
def test_the_printed_interval_of_four_in_twenty():
    expected = CHECK.expected["x4_n20_90pct"]
    found = exact_share_limits(np.array([4.0]), np.array([20.0]), confidence=0.90)
    assert abs(found.low[0] - expected["lower"].value) <= expected["lower"].tol
    assert abs(found.high[0] - expected["upper"].value) <= expected["upper"].tol


@pytest.mark.published(source=CHECK.source)
@pytest.mark.parametrize("name", list(CHECK.expected["exact_two_sided"]))
def test_exact_two_sided_limits(name):
    x, n, percent, side = re.fullmatch(r"x(\d+)_n(\d+)_(\d+)pct_(\w+)", name).groups()
    found = exact_share_limits(
        np.array([float(x)]), np.array([float(n)]), confidence=int(percent) / 100
    )
    seen = found.low[0] if side == "lower" else found.high[0]
    expected = CHECK.expected["exact_two_sided"][name]
    assert abs(seen - expected.value) <= expected.tol


@pytest.mark.published(source=CHECK.source)
def test_every_row_of_the_table_of_limits():
    found = exact_share_limits(
        TWO_SIDED["x"].to_numpy(float), TWO_SIDED["n"].to_numpy(float), confidence=0.95
    )
    usual = TWO_SIDED["confidence"].to_numpy(float) == 0.95
    np.testing.assert_allclose(found.low[usual], TWO_SIDED["lower"][usual], atol=1e-9)
    np.testing.assert_allclose(found.high[usual], TWO_SIDED["upper"][usual], atol=1e-9)


@pytest.mark.published(source=CHECK.source)
@pytest.mark.parametrize("name", list(CHECK.expected["zero_failure_units"]))
def test_parts_without_failure(name):
    share, confidence = (float(one[1:]) for one in name.split("_"))
    expected = CHECK.expected["zero_failure_units"][name].value
    assert parts_without_failure(share, confidence=confidence) == expected


@pytest.mark.published(source=CHECK.source)
@pytest.mark.parametrize("name", list(CHECK.expected["units_with_allowed_failures"]))
def test_parts_with_failures(name):
    failures, share, confidence = (float(one[1:]) for one in name.split("_"))
    expected = CHECK.expected["units_with_allowed_failures"][name].value
    assert parts_with_failures(int(failures), share, confidence=confidence) == expected


@pytest.mark.property
@given(failures=st.integers(0, 6), share=st.floats(0.5, 0.99), confidence=st.floats(0.5, 0.99))
@settings(max_examples=50, deadline=None)
def test_no_smaller_number_of_parts_would_do(failures, share, confidence):
    n = parts_with_failures(failures, share, confidence=confidence)
    assert binom.cdf(failures, n, 1 - share) <= 1 - confidence + 1e-12
    assert n == failures + 1 or binom.cdf(failures, n - 1, 1 - share) > 1 - confidence - 1e-12
    assert failures_allowed(n, share, confidence=confidence) >= failures


@pytest.mark.property
@given(failures=st.integers(0, 20), n=st.integers(1, 60), confidence=st.floats(0.5, 0.99))
@settings(max_examples=50, deadline=None)
def test_limits_are_those_at_which_the_count_just_becomes_unlikely(failures, n, confidence):
    failures = min(failures, n)
    low = share_at_least(failures, n, confidence=confidence)
    high = share_at_most(failures, n, confidence=confidence)
    assert 0 <= low <= high <= 1
    if 0 < low < 1:
        assert binom.cdf(failures, n, 1 - low) == pytest.approx(1 - confidence, abs=1e-9)
    if 0 < high < 1:
        assert binom.sf(failures - 1, n, 1 - high) == pytest.approx(1 - confidence, abs=1e-9)


def test_too_few_parts_allow_no_failure_at_all():
    assert failures_allowed(58, 0.95, confidence=0.95) is None
    assert failures_allowed(59, 0.95, confidence=0.95) == 0
    assert share_at_least(3, 3, confidence=0.95) == 0.0
    assert share_at_most(0, 3, confidence=0.95) == 1.0


@pytest.mark.reference(library="scipy: binomial distribution")
def test_chance_of_few_failures():
    failing = np.array([0.0, 0.01, 0.3, 1.0])
    np.testing.assert_allclose(
        at_most_failing(1, 30, failing), binom.cdf(1, 30, failing), atol=1e-12
    )
