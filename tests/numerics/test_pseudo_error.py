"""Lenth's pseudo standard error against the paper's example of use and simulated quantiles."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.files.evidence import published
from workbench.numerics.pseudo_error import (
    pseudo_standard_error,
    simulated_critical_values,
    t_critical_values,
)

NULL = published("lenth_null_quantiles")
FILTRATION = published("filtration-2x4-lenth")


@pytest.mark.reference(library="numpy: 2 000 000 sets of standard normal effects")
@pytest.mark.parametrize("group", list(NULL.expected))
def test_simulated_critical_values(group):
    expected, m = NULL.expected[group], int(group[1:])
    found = simulated_critical_values(m)
    for key, value in (
        ("individual_0.05", found.individual),
        ("simultaneous_0.05", found.simultaneous),
    ):
        assert abs(value - expected[key].value) <= expected[key].tol


@pytest.mark.reference(library="scipy: t quantiles on m/3 degrees of freedom")
@pytest.mark.parametrize("group", list(NULL.expected))
def test_critical_values_of_the_paper(group):
    expected, found = NULL.expected[group], t_critical_values(int(group[1:]))
    for key, value in (
        ("t_quantile_individual_0.05", found.individual),
        ("t_quantile_simultaneous_0.05", found.simultaneous),
    ):
        assert abs(value - expected[key].value) <= expected[key].tol


def test_remembered_table_of_ye_and_hamada():
    # From memory of Ye and Hamada (2000), not retrieved: 7 effects 2.297 and 4.867.
    found = simulated_critical_values(7)
    assert found.individual == pytest.approx(2.297, abs=0.01)
    assert found.simultaneous == pytest.approx(4.867, abs=0.04)


@pytest.mark.published(source="Montgomery, Design and Analysis of Experiments, example 6.2")
def test_filtration_pseudo_error():
    effects = np.array([one.value for one in FILTRATION.expected["effects"].values()])
    expected = FILTRATION.expected["pseudo_standard_error"]
    error, by_t = float(pseudo_standard_error(effects)), t_critical_values(effects.size)
    for key, value in (
        ("pse", error),
        ("margin_of_error_95", by_t.individual * error),
        ("simultaneous_margin_95", by_t.simultaneous * error),
    ):
        assert abs(value - expected[key].value) <= expected[key].tol


def plain(effects):
    sizes = np.abs(effects)
    kept = sizes[sizes < 2.5 * 1.5 * np.median(sizes)]
    return 1.5 * np.median(kept)


@pytest.mark.property
@settings(max_examples=50, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), m=st.integers(5, 31))
def test_sorted_medians_equal_the_plain_definition(seed, m):
    effects = np.random.default_rng(seed).normal(size=(3, m)) ** 3
    found = pseudo_standard_error(effects)
    np.testing.assert_allclose(found, [plain(row) for row in effects], rtol=1e-12)


def test_effects_of_nothing_have_no_pseudo_error():
    assert pseudo_standard_error(np.zeros(7)) == 0
