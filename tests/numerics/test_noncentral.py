"""Noncentral F against published sizes, exact values and another library."""

import numpy as np
import pytest
from scipy import integrate, stats

import workbench as wb
from workbench.numerics.noncentral import critical_f, noncentrality_for, power_of_f

CHECK = wb.files.published("power-and-sample-size")


@pytest.mark.published("Cohen 1992, Psychological Bulletin 112, table 2 (printed sizes ± 1)")
@pytest.mark.parametrize("name", CHECK.expected["one_way_n_per_group_exact"])
def test_sizes_for_eighty_percent_power(name):
    f, k = float(name[1 : name.index("_")]), int(name.split("_k")[1])

    def power(n):
        return power_of_f(k - 1, k * (n - 1), k * n * f**2, alpha=0.05)

    n = next(n for n in range(2, 500) if power(n) >= 0.8)
    assert n == CHECK.expected["one_way_n_per_group_exact"][name].value
    printed = CHECK.expected["one_way_n_per_group_printed"][name]
    assert abs(n - printed.value) <= printed.tol


@pytest.mark.published("recomputed: see the check's provenance")
@pytest.mark.parametrize(
    ("name", "f", "k", "n"),
    [("f0.25_k4_n45", 0.25, 4, 45), ("f0.4_k3_n21", 0.4, 3, 21), ("f0.25_k2_n64", 0.25, 2, 64)],
)
def test_one_way_power(name, f, k, n):
    found = power_of_f(k - 1, k * (n - 1), k * n * f**2, alpha=0.05)
    assert found == pytest.approx(CHECK.expected["one_way_power"][name].value, abs=1e-10)


def test_no_effect_is_found_as_often_as_alpha_says():
    for alpha in (0.001, 0.05, 0.3):
        np.testing.assert_allclose(
            power_of_f([1, 2, 7], [1, 12, 300], 0.0, alpha=alpha), alpha, rtol=1e-9
        )
        np.testing.assert_allclose(power_of_f(2, 9, 1e-9, alpha=alpha), alpha, rtol=1e-6)


@pytest.mark.reference("scipy.integrate: noncentral t by its defining integral")
@pytest.mark.parametrize(("df", "noncentrality"), [(1, 1.0), (4, 9.0), (30, 0.3), (12, 40.0)])
def test_one_df_equals_the_noncentral_t_integral(df, noncentrality):
    limit, shift = np.sqrt(critical_f(1, df, alpha=0.05)), np.sqrt(noncentrality)

    def beyond(chi):
        edge = limit * chi / np.sqrt(df)
        either = stats.norm.sf(edge - shift) + stats.norm.cdf(-edge - shift)
        return either * stats.chi.pdf(chi, df)

    expected = integrate.quad(beyond, 0, np.inf, epsabs=1e-12)[0]
    assert power_of_f(1, df, noncentrality, alpha=0.05) == pytest.approx(expected, abs=1e-9)


def test_power_stays_a_chance_far_out():
    far = power_of_f([1, 3], [2, 400], [1e5, 1e7], alpha=0.05)
    assert ((far > 0.999) & (far <= 1)).all()


@pytest.mark.parametrize("df", [1, 2, 6])
@pytest.mark.parametrize("error_df", [1, 5, 200])
def test_noncentrality_gives_back_its_chance(df, error_df):
    found = noncentrality_for(df, error_df, alpha=0.05, chance=0.9)
    assert power_of_f(df, error_df, found, alpha=0.05) == pytest.approx(0.9, abs=1e-9)
