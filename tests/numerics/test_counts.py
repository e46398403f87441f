"""Counts: references of other libraries, published facts, and spread beyond chance."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from workbench.files.evidence import published
from workbench.numerics.count_posterior import count_draws
from workbench.numerics.count_tests import CountProblem, quasi_limits, quasi_test, two_sided
from workbench.numerics.counts import CountRows, count_regression, deviance_at
from workbench.numerics.overdispersed import overdispersed, share_up_to


def meets(expected, values):
    for one, value in zip(expected.values(), values, strict=True):
        assert abs(value - one.value) <= one.tol


def defects():
    table = published("counts_defects").tables["data"]
    X = np.column_stack([np.ones(len(table)), table[["A", "B", "C", "D"]].to_numpy(float)])
    rows = CountRows(
        count=table["defects"].to_numpy(float), offset=np.log(table["area"].to_numpy(float))
    )
    return X, rows


def indicators(table, names):
    """Return treatment columns: first level as the base."""
    parts = [np.ones((len(table), 1))]
    for name in names:
        levels = list(dict.fromkeys(table[name]))
        parts.append((table[name].to_numpy()[:, None] == np.array(levels[1:])).astype(float))
    return np.hstack(parts)


@pytest.mark.reference("R 4.2.2 glm; MASS 7.3.58.2 glm.nb")
class TestDefects:
    def test_poisson(self):
        expected = published("counts_defects").expected
        solution = count_regression(*defects())
        errors = np.sqrt(np.diag(solution.covariance))
        meets(expected["poisson_coef"], solution.estimates)
        meets(expected["poisson_se"], errors)
        meets(expected["poisson_deviance"], [solution.deviance])
        meets(expected["dispersion_pearson"], [solution.dispersion])
        meets(expected["quasi_se"], errors * np.sqrt(solution.dispersion))
        t = solution.estimates / errors / np.sqrt(solution.dispersion)
        meets(expected["quasi_t_p"], 2 * stats.t.sf(np.abs(t), solution.error_df))

    def test_f_with_either_dispersion(self):
        """R's drop1 divides by the deviance per df; ours by Pearson, as its t tests do."""
        expected = published("counts_defects").expected["quasi_F_drop"]
        X, rows = defects()
        solution = count_regression(X, rows)
        by_deviance = CountProblem(
            X=X, rows=rows, solution=solution, dispersion=solution.deviance / solution.error_df
        )
        for place, name in enumerate("ABCD", start=1):
            test = quasi_test(by_deviance, np.array([place]))
            assert abs(test.statistic - expected[f"{name}|F"].value) <= expected[f"{name}|F"].tol
            assert abs(test.p - expected[f"{name}|p"].value) <= expected[f"{name}|p"].tol
        ours = CountProblem(X=X, rows=rows, solution=solution, dispersion=solution.dispersion)
        assert quasi_test(ours, np.array([1])).statistic == pytest.approx(4.973, abs=5e-4)

    def test_negative_binomial(self):
        expected = published("counts_defects").expected
        X, rows = defects()
        found = overdispersed(X, rows, count_regression(X, rows))
        meets(expected["negbin_coef"], found.estimates)
        meets(expected["negbin_se"], np.sqrt(np.diag(found.covariance)))
        meets(expected["negbin_theta"], [1 / found.spread])
        meets(expected["negbin_log_likelihood"], [found.log_likelihood])


@pytest.mark.published("Comizzoli, Landwehr and Sinclair 1990, AT&T Technical Journal 69, 113-128")
def test_solder_skips():
    check = published("glm-poisson-solder-skips")
    table = check.tables["data"]
    names = ("Opening", "Solder", "Mask", "PadType", "Panel")
    X = indicators(table, names)
    rows = CountRows(count=table["skips"].to_numpy(float), offset=np.zeros(len(table)))
    solution, expected = count_regression(X, rows), check.expected
    fit = expected["fit"]
    assert abs(solution.deviance - fit["residual_deviance"].value) <= fit["residual_deviance"].tol
    assert abs(solution.pearson - fit["pearson_chi_square"].value) <= fit["pearson_chi_square"].tol
    assert solution.error_df == fit["df_residual"].value
    assert abs(solution.dispersion - fit["dispersion"].value) <= fit["dispersion"].tol
    problem = CountProblem(X=X, rows=rows, solution=solution, dispersion=solution.dispersion)
    first = 1
    for name in names:
        df = int(expected["df_of_term"][name].value)
        test = quasi_test(problem, np.arange(first, first + df))
        known = expected["deviance_increase_when_dropped"][name]
        assert abs(test.rise - known.value) <= known.tol
        first += df


@pytest.mark.published("Tippett 1950, warp breaks; R manual datasets::warpbreaks")
def test_warp_breaks():
    check = published("glm-poisson-warpbreaks")
    table = check.tables["data"]
    mains = indicators(table, ("wool", "tension"))
    X = np.column_stack([mains, mains[:, 1] * mains[:, 2], mains[:, 1] * mains[:, 3]])
    rows = CountRows(count=table["breaks"].to_numpy(float), offset=np.zeros(len(table)))
    solution = count_regression(X, rows)
    errors = np.sqrt(np.diag(solution.covariance))
    meets(check.expected["coef"], solution.estimates)
    meets(check.expected["se"], errors)
    meets(check.expected["se_scaled_by_pearson_dispersion"], errors * np.sqrt(solution.dispersion))
    fit = check.expected["fit"]
    assert abs(solution.deviance - fit["residual_deviance"].value) <= fit["residual_deviance"].tol
    none = count_regression(X[:, :1], rows)
    assert abs(none.deviance - fit["null_deviance"].value) <= fit["null_deviance"].tol
    falls = [
        count_regression(X[:, :a], rows).deviance - count_regression(X[:, :b], rows).deviance
        for a, b in ((1, 2), (2, 4), (4, 6))
    ]
    meets(check.expected["sequential_deviance"], falls)


def test_a_setting_without_any_count_has_one_end():
    x = np.repeat([-1.0, 1.0], 4)
    X = np.column_stack([np.ones(8), x])
    rows = CountRows(count=np.array([4.0, 6, 5, 7, 0, 0, 0, 0]), offset=np.zeros(8))
    solution = count_regression(X, rows)
    assert solution.endless.rises(np.array([0.0, 1])) == -1
    problem = CountProblem(X=X, rows=rows, solution=solution, dispersion=solution.dispersion)
    span = quasi_limits(problem, np.array([0.0, 1]), confidence=0.95)
    assert span.low == -np.inf
    assert -3 < span.high < -0.5
    drawn = count_draws(problem, np.random.default_rng(1), n_draws=2000)
    assert np.isfinite(drawn.coefficients).all()
    assert (drawn.coefficients[:, 1] < 0).mean() > 0.97


@pytest.mark.property
@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 10**6), exposure=st.floats(0.1, 10))
def test_exposure_moves_the_mean_alone(seed, exposure):
    rng = np.random.default_rng(seed)
    X = np.column_stack([np.ones(8), np.tile([-1.0, 1.0], 4)])
    count = 1.0 + rng.poisson(4, 8)
    one = count_regression(X, CountRows(count=count, offset=np.zeros(8)))
    other = count_regression(X, CountRows(count=count, offset=np.full(8, np.log(exposure))))
    assert other.estimates[1] == pytest.approx(one.estimates[1], abs=1e-8)
    assert other.estimates[0] == pytest.approx(one.estimates[0] - np.log(exposure), abs=1e-8)


@pytest.mark.reference("SciPy")
def test_shares_of_spread_counts():
    for most in (0, 3, 7, 40):
        np.testing.assert_allclose(
            share_up_to(most, np.array([3.0, 6.0]), np.array([0.4, 0.4]), trials=None),
            stats.nbinom.cdf(most, 2.5, 2.5 / (2.5 + np.array([3.0, 6.0]))),
            atol=1e-10,
        )
        np.testing.assert_allclose(
            share_up_to(most, np.array([3.0]), np.array([1e-9]), trials=None),
            stats.poisson.cdf(most, 3.0),
            atol=1e-10,
        )
    for most in (-1, 0, 4, 9, 10):
        np.testing.assert_allclose(
            share_up_to(most, np.array([3.0]), np.array([0.4]), trials=10),
            stats.betabinom.cdf(most, 10, 0.3 / 0.4, 0.7 / 0.4),
            atol=1e-10,
        )


@pytest.mark.property
@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_limits_are_where_the_deviance_has_risen(seed):
    rng = np.random.default_rng(seed)
    X = np.column_stack([np.ones(10), np.tile([-1.0, 1.0], 5), np.repeat([-1.0, 1.0], 5)])
    rows = CountRows(
        count=rng.binomial(20, 0.4, 10) * 1.0, offset=np.zeros(10), trials=np.full(10, 20.0)
    )
    solution = count_regression(X, rows)
    problem = CountProblem(X=X, rows=rows, solution=solution, dispersion=solution.dispersion)
    way = np.array([0.0, 1.0, -1.0])
    span = quasi_limits(problem, way, confidence=0.95)
    allowed = solution.dispersion * two_sided(solution.judging_df, 0.95) ** 2
    for end in (span.low, span.high):
        rise = deviance_at(X, rows, (way, end)) - solution.deviance
        assert rise == pytest.approx(allowed, rel=1e-4)


@pytest.mark.reference("conjugate gamma posterior")
def test_draws_of_a_plain_count_follow_the_gamma_posterior():
    """With Jeffreys' prior and no spread the mean of n counts is gamma(sum + 1/2, n)."""
    rows = CountRows(count=np.full(40, 5.0), offset=np.zeros(40))  # no spread to be seen
    X = np.ones((40, 1))
    problem = CountProblem(X=X, rows=rows, solution=count_regression(X, rows), dispersion=1.0)
    drawn = count_draws(problem, np.random.default_rng(2), n_draws=6000)
    rate = np.exp(drawn.coefficients[:, 0])
    assert rate.mean() == pytest.approx(200.5 / 40, abs=0.05)
    assert rate.std() == pytest.approx(np.sqrt(200.5) / 40, rel=0.06)
    assert np.median(drawn.spread) < 0.01


def test_short_run_of_the_study_of_counts():
    """A short run of tests/studies/count_and_grade_errors.py: rates that vary from run to run."""
    rng = np.random.default_rng(3)
    X = np.column_stack([np.ones(16), np.tile([-1.0, 1.0], 8), np.repeat([-1.0, 1.0], 8)])
    below = []
    for _ in range(300):
        rate = 5 * rng.gamma(2.0, 0.5, 16)
        rows = CountRows(count=rng.poisson(rate) * 1.0, offset=np.zeros(16))
        solution = count_regression(X, rows)
        problem = CountProblem(X=X, rows=rows, solution=solution, dispersion=solution.dispersion)
        below.append(quasi_test(problem, np.array([1])).p < 0.05)
    assert 0.02 <= np.mean(below) <= 0.11  # standard error 0.013
