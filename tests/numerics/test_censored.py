"""Censored regression: references of a survival library, and facts that hold for any data."""

from functools import cache
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from workbench.errors import Unavailable
from workbench.files.evidence import published
from workbench.numerics.censored import Rows, censored
from workbench.numerics.censored_posterior import censored_draws
from workbench.numerics.censored_profile import (
    CensoredProblem,
    limits,
    ratio_test,
    sigma_in_small_samples,
    threshold,
)
from workbench.numerics.location_scale import NORMAL, SMALLEST

CHI_SQUARE = 3.841458820694124  # 95 % point of chi square on one df


def columns(table, terms):
    parts = [np.prod([table[n].to_numpy(float) for n in one.split(":")], axis=0) for one in terms]
    return np.column_stack([np.ones(len(table)), *parts])


def rows_of(table):
    low = table["lower"].fillna(-np.inf).to_numpy(float)
    return Rows(low=low, high=table["upper"].fillna(np.inf).to_numpy(float))


def logged(rows):
    finite_low, finite_high = np.isfinite(rows.low), np.isfinite(rows.high)
    low = np.where(finite_low, np.log(np.where(finite_low, rows.low, 1.0)), -np.inf)
    return Rows(
        low=low, high=np.where(finite_high, np.log(np.where(finite_high, rows.high, 1)), np.inf)
    )


def problem_of(X, rows, family=NORMAL):
    solution = censored(X, rows, family=family)
    assert not isinstance(solution, Unavailable)
    return CensoredProblem(X=X, rows=rows, family=family, solution=solution)


@cache
def solved_check(name, terms):
    table = published(name).tables["data"]
    return problem_of(columns(table, terms), rows_of(table))


def meets(expected, values):
    for one, value in zip(expected.values(), values, strict=True):
        assert abs(value - one.value) <= one.tol


@pytest.mark.reference("R survival 3.5.3")
class TestPullWithEveryKindOfRow:
    @pytest.fixture
    def check(self):
        return published("censored_normal_pull")

    @pytest.fixture
    def problem(self):
        return solved_check("censored_normal_pull", ("A", "B", "C", "A:B"))

    def test_estimates_and_errors(self, check, problem):
        solution = problem.solution
        found = np.append(solution.estimates, solution.log_sigma)
        meets(check.expected["coef_and_log_scale"], found)
        meets(check.expected["se_observed_information"], np.sqrt(np.diag(solution.covariance)))
        meets(check.expected["log_likelihood"], [solution.log_likelihood])

    def test_profile_limits(self, check, problem):
        spans = [limits(problem, way, fall_allowed=CHI_SQUARE) for way in np.eye(5)[1:]]
        meets(check.expected["profile_95"], [end for s in spans for end in (s.low, s.high)])

    def test_likelihood_ratios(self, check, problem):
        expected = check.expected["lr_test_drop"]
        for name, place in (("C", 3), ("A:B", 4)):
            fall = ratio_test(problem, np.array([place])).fall
            assert abs(fall - expected[f"{name}|LR"].value) <= expected[f"{name}|LR"].tol


@pytest.mark.reference("R survival 3.5.3")
def test_lognormal_life_with_intervals():
    check = published("censored_lognormal_life")
    table = check.tables["data"]
    rows = logged(rows_of(table))
    problem = problem_of(columns(table, ["A", "B", "C", "D"]), rows)
    solution = problem.solution
    meets(check.expected["coef_and_log_scale"], np.append(solution.estimates, solution.log_sigma))
    meets(check.expected["se_observed_information"], np.sqrt(np.diag(solution.covariance)))
    # The likelihood of the times themselves has the Jacobian of the logarithm in it.
    of_times = solution.log_likelihood - rows.low[rows.exact].sum()
    meets(check.expected["log_likelihood"], [of_times])
    expected = check.expected["lr_test_drop"]
    for place, name in enumerate("ABCD", start=1):
        fall = ratio_test(problem, np.array([place])).fall
        assert abs(fall - expected[f"{name}|LR"].value) <= expected[f"{name}|LR"].tol


@pytest.mark.reference("R survival 3.5.3")
class TestUnboundedCell:
    @pytest.fixture
    def check(self):
        return published("censored_unbounded_cell")

    @pytest.fixture
    def problem(self):
        return solved_check("censored_unbounded_cell", ("A", "B", "C", "A:B"))

    def test_says_which_sums_are_endless(self, problem):
        found = problem.solution.endless
        assert [found.rises(way) for way in np.eye(5)] == [1, 1, 1, 0, 1]
        assert found.rows.sum() == 6

    def test_what_stays_finite(self, check, problem):
        expected, solution = check.expected["interaction_model"], problem.solution
        meets(expected, [solution.log_likelihood, solution.estimates[3], solution.log_sigma])

    def test_one_end_of_the_interval(self, problem):
        span = limits(problem, np.eye(5)[4], fall_allowed=CHI_SQUARE)
        assert span.high == np.inf
        assert 0 < span.low < 2

    def test_main_effects_are_finite(self, check):
        table = check.tables["data"]
        problem = problem_of(columns(table, ["A", "B", "C"]), rows_of(table))
        assert problem.solution.endless is None
        found = np.append(problem.solution.estimates, problem.solution.log_sigma)
        meets(check.expected["main_effects_coef_and_log_scale"], found)

    def test_draws_stay_proper_and_respect_the_one_end(self, problem):
        drawn = censored_draws(problem, np.random.default_rng(1), n_draws=4000)
        low = np.quantile(drawn.coefficients[:, 4], 0.025)
        span = limits(problem, np.eye(5)[4], fall_allowed=threshold(problem, confidence=0.95))
        assert np.isfinite(drawn.coefficients).all()
        assert low == pytest.approx(span.low, abs=0.25)


@pytest.mark.published("Tobin 1958, Econometrica 26, 24-36; coefficients as in survival::tobin")
def test_durable_goods():
    check = published("censored-normal-tobin")
    table = check.tables["data"]
    bought = table["durable"].to_numpy(float)
    rows = Rows(low=np.where(bought > 0, bought, -np.inf), high=bought)
    X = np.column_stack([np.ones(len(table)), table["age"], table["quant"]])
    solution = problem_of(X, rows).solution
    meets(check.expected["coef"], solution.estimates)
    meets(check.expected["coef_exact"], solution.estimates)
    meets(check.expected["se"], np.sqrt(np.diag(solution.covariance)))
    assert abs(solution.sigma - check.expected["scale"]["sigma"].value) <= 0.006
    assert (rows.pull == -1).sum() == check.expected["fit"]["censored_count"].value


@pytest.mark.published("NIST/SEMATECH e-Handbook 8.4.1.3")
def test_weibull_and_lognormal_life():
    check = published("hb-weibull-censored")
    table = check.tables["data"]
    y, cut = np.log(table["time"].to_numpy(float)), table["censored"].to_numpy() == 1
    rows, X = Rows(low=y, high=np.where(cut, np.inf, y)), np.ones((len(y), 1))
    weibull, expected = problem_of(X, rows, SMALLEST).solution, check.expected["weibull"]
    of_times = weibull.log_likelihood - y[~cut].sum()
    for name, value in {
        "shape": 1 / weibull.sigma,
        "scale": np.exp(weibull.estimates[0]),
        "minus_log_likelihood": -of_times,
        "aic": 4 - 2 * of_times,
    }.items():
        assert abs(value - expected[name].value) <= expected[name].tol
    lognormal = problem_of(X, rows).solution
    assert abs(lognormal.estimates[0] - check.expected["lognormal"]["mu"].value) <= 1e-5
    assert abs(lognormal.sigma - check.expected["lognormal"]["sigma"].value) <= 1e-5


def two_level(k):
    return np.column_stack([np.ones(2**k), np.array(list(product((-1.0, 1.0), repeat=k)))])


@pytest.mark.property
@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10**6), shift=st.floats(-1e3, 1e3), unit=st.floats(1e-2, 1e2))
def test_nothing_cut_off_is_least_squares(seed, shift, unit):
    X = two_level(3)
    y = shift + unit * np.random.default_rng(seed).standard_normal(8)
    problem = problem_of(X, Rows(low=y, high=y.copy()))
    b, rss = np.linalg.lstsq(X, y)[:2]
    s = float(np.sqrt(rss[0] / 4))
    np.testing.assert_allclose(problem.solution.estimates, b, rtol=1e-7, atol=1e-7 * unit)
    assert sigma_in_small_samples(problem) == pytest.approx(s, rel=1e-7)
    span = limits(problem, np.eye(4)[1], fall_allowed=threshold(problem, confidence=0.95))
    reach = stats.t.ppf(0.975, 4) * s / np.sqrt(8)
    np.testing.assert_allclose(
        [span.low, span.high], [b[1] - reach, b[1] + reach], rtol=1e-5, atol=1e-5 * unit
    )


@pytest.mark.property
@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10**6), scale=st.floats(1e-2, 1e2), shift=st.floats(-10, 10))
def test_units_do_not_matter(seed, scale, shift):
    rng = np.random.default_rng(seed)
    X = two_level(4)
    y = X @ rng.standard_normal(5) + rng.standard_normal(16)
    low = np.minimum(y, np.quantile(y, 0.7))
    high = np.where(y > low, np.inf, y)
    one = censored(X, Rows(low=low, high=high), family=SMALLEST)
    other = censored(X, Rows(low=shift + scale * low, high=shift + scale * high), family=SMALLEST)
    np.testing.assert_allclose(
        other.estimates[1:], scale * one.estimates[1:], rtol=1e-6, atol=1e-6 * scale
    )
    assert other.sigma == pytest.approx(scale * one.sigma, rel=1e-6)


def test_draws_without_cut_off_readings_are_t():
    rng = np.random.default_rng(5)
    X = two_level(4)
    y = 10 + 2 * X[:, 1] + rng.standard_normal(16)
    problem = problem_of(X, Rows(low=y, high=y.copy()))
    drawn = censored_draws(problem, np.random.default_rng(2), n_draws=8000)
    s = sigma_in_small_samples(problem)
    z = (drawn.coefficients[:, 1] - problem.solution.estimates[1]) / (s / 4)
    assert stats.kstest(z, stats.t(11).cdf).statistic < 0.025
    assert stats.kstest(11 * s**2 / drawn.sigma**2, stats.chi2(11).cdf).statistic < 0.025


class TestNoAnswer:
    def test_everything_cut_off(self):
        X = two_level(3)
        found = censored(X, Rows(low=np.full(8, 5.0), high=np.full(8, np.inf)), family=NORMAL)
        assert isinstance(found, Unavailable)
        assert "every reading is cut off" in found.reason

    def test_readings_on_the_model(self):
        X = two_level(3)
        y = X @ np.array([10.0, 1, 0, 0])
        found = censored(X, Rows(low=y, high=y.copy()), family=NORMAL)
        assert isinstance(found, Unavailable)
        assert "no scatter" in found.reason

    def test_as_many_columns_as_exact_readings(self):
        X = two_level(2)
        low = np.array([1.0, 2, 3, 4])
        found = censored(X, Rows(low=low, high=np.array([1.0, 2, 3, np.inf])), family=NORMAL)
        assert isinstance(found, Unavailable)


def test_small_sample_threshold_keeps_its_rate():
    """A short run of tests/studies/censored_errors.py: 16 runs, 45 % cut off."""
    X = two_level(4)
    rng = np.random.default_rng(8)
    covered = []
    for _ in range(150):
        y = 0.75 * X[:, 1] + rng.standard_normal(16)
        low = np.minimum(y, 0.25)
        solution = censored(X, Rows(low=low, high=np.where(y > low, np.inf, y)), family=NORMAL)
        if isinstance(solution, Unavailable):
            continue
        problem = CensoredProblem(
            X=X,
            rows=Rows(low=low, high=np.where(y > low, np.inf, y)),
            family=NORMAL,
            solution=solution,
        )
        covered.append(ratio_test(problem, np.array([2])).p >= 0.05)
    assert 0.90 <= np.mean(covered) <= 0.99  # standard error 0.018
