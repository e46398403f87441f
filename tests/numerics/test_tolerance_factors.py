"""Normal tolerance factors against the e-Handbook, exact tables and a simulation."""

import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import nct, norm

from workbench.files.evidence import published
from workbench.numerics.tolerance_factors import (
    beyond_at_least,
    beyond_at_most,
    chance_beyond_factor,
    factor_seen,
    howe_factor,
    one_sided_factor,
    two_sided_factor,
)

CHECK = published("tolerance-factors-normal")
KINDS = {
    "one_sided": one_sided_factor,
    "two_sided_exact": two_sided_factor,
    "two_sided_exact_published": two_sided_factor,
}


@pytest.mark.published(source=CHECK.source)
@pytest.mark.parametrize(
    ("group", "name"), [(group, name) for group in KINDS for name in CHECK.expected[group]]
)
def test_factors(group, name):
    n, share, confidence = re.fullmatch(r"n(\d+)_p(\d+)_g(\d+)", name).groups()
    found = KINDS[group](int(n), int(share) / 100, confidence=int(confidence) / 100)
    expected = CHECK.expected[group][name]
    assert abs(found - expected.value) <= expected.tol


@pytest.mark.published(source=CHECK.source)
@pytest.mark.parametrize(
    ("name", "factor"),
    [("k2_howe", howe_factor), ("k2_exact", two_sided_factor), ("k1_exact", one_sided_factor)],
)
def test_the_worked_example_of_43_parts(name, factor):
    # The printed "exact" two-sided factor 2.210167 is that of share 0.99 at confidence 0.05.
    expected = CHECK.expected["n43_p90_g99"][name]
    assert abs(factor(43, 0.90, confidence=0.99) - expected.value) <= expected.tol


@pytest.mark.published(source=CHECK.source)
def test_every_row_of_the_grid():
    for row in CHECK.tables["data"].itertuples():
        args = (int(row.n), float(row.proportion))
        found = [
            factor(*args, confidence=float(row.confidence))
            for factor in (two_sided_factor, one_sided_factor, howe_factor)
        ]
        # The grid is printed to six digits.
        np.testing.assert_allclose(found, [row.k2_exact, row.k1_exact, row.k2_howe], rtol=6e-6)


@pytest.mark.property
@given(
    k=st.floats(-4, 40),
    n=st.sampled_from([2, 3, 5, 15, 60, 300]),
    confidence=st.floats(0.05, 0.99),
)
@settings(max_examples=50, deadline=None)
def test_share_beyond_a_limit_undoes_the_factor(k, n, confidence):
    beyond = beyond_at_most(k, n, confidence=confidence)
    assert 0 <= beyond <= 1
    assert beyond_at_least(k, n, confidence=1 - confidence) == pytest.approx(beyond, abs=1e-12)
    if 1e-9 < beyond < 1 - 1e-9:
        assert one_sided_factor(n, 1 - beyond, confidence=confidence) == pytest.approx(k, abs=1e-5)


@pytest.mark.reference(library="scipy: noncentral t distribution")
def test_chances_of_a_sample_factor():
    assert chance_beyond_factor(2.566, 3.0, 15) == pytest.approx(
        nct.sf(2.566 * 15**0.5, 14, 3.0 * 15**0.5), abs=1e-9
    )
    assert factor_seen(3.0, 15, chance=0.1) == pytest.approx(
        nct.ppf(0.1, 14, 3.0 * 15**0.5) / 15**0.5, abs=1e-9
    )
    assert chance_beyond_factor(60.0, -60.0, 300) == 0.0


@pytest.mark.parametrize(("n", "seed"), [(6, 1), (20, 2)])
def test_intervals_hold_the_share_as_often_as_they_say(n, seed):
    rng = np.random.default_rng(seed)
    samples = rng.normal(size=(20_000, n))
    mean, sd = samples.mean(axis=1), samples.std(axis=1, ddof=1)
    k1 = one_sided_factor(n, 0.9, confidence=0.95)
    k2 = two_sided_factor(n, 0.9, confidence=0.95)
    above = norm.sf(mean - k1 * sd)
    inside = norm.cdf(mean + k2 * sd) - norm.cdf(mean - k2 * sd)
    # Four standard errors of 20,000 trials at 0.95.
    assert (above >= 0.9).mean() == pytest.approx(0.95, abs=0.0062)
    assert (inside >= 0.9).mean() == pytest.approx(0.95, abs=0.0062)
