"""Grades: references of other libraries, and that two grades are a logistic regression."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.files.evidence import published
from workbench.numerics.ordered_likelihood import grade_chances, grades, point, slope
from workbench.numerics.ordered_posterior import ordered_draws
from workbench.numerics.pass_counts import pass_counts
from workbench.numerics.penalised_logistic import penalised_logistic
from workbench.numerics.proportional_odds import (
    fall_at,
    ordered_limits,
    ordered_test,
    proportional_odds,
)
from workbench.numerics.proportionality import proportionality, slopes_by_threshold

CHI_SQUARE = 3.841458820694124


def meets(expected, values):
    for one, value in zip(expected.values(), values, strict=True):
        assert abs(value - one.value) <= one.tol


def visual_grades():
    table = published("ordered_grades").tables["data"]
    return grades(table[["A", "B", "C"]].to_numpy(float), table["grade"].to_numpy() - 1)


@pytest.mark.reference("R ordinal 2022.11.16, clm; MASS 7.3.58.2, polr")
def test_plain_maximum_likelihood():
    expected = published("ordered_grades").expected
    solution = proportional_odds(visual_grades(), penalty=False)
    meets(expected["threshold"], solution.thresholds)
    meets(expected["coef"], solution.slopes)
    meets(expected["se"], np.sqrt(np.diag(solution.covariance)))
    meets(expected["log_likelihood"], [solution.log_likelihood])
    for place, name in enumerate("ABC"):
        test = ordered_test(solution, np.array([place]))
        assert abs(test.fall - expected["lr_test_drop"][f"{name}|LR"].value) <= 1e-5
        assert abs(test.p - expected["lr_test_drop"][f"{name}|p"].value) <= 1e-6


@pytest.mark.reference("numerics.penalised_logistic, held against Heinze and Schemper (2002)")
def test_two_grades_are_the_penalised_logistic_regression():
    rng = np.random.default_rng(1)
    X = rng.standard_normal((24, 3))
    passed = (X[:, 0] > 0).astype(np.int64)  # separated: plain likelihood has no maximum
    counts = pass_counts(np.column_stack([np.ones(24), X]), passed.astype(float), np.ones(24))
    firth, solution = penalised_logistic(counts), proportional_odds(grades(X, passed))
    np.testing.assert_allclose(solution.slopes, firth.estimates[1:], rtol=2e-5)
    np.testing.assert_allclose(solution.thresholds, -firth.estimates[:1], rtol=2e-4)
    assert solution.penalised == pytest.approx(firth.penalised_log_likelihood, abs=1e-8)


@pytest.mark.property
@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_slope_is_the_derivative_of_the_penalised_likelihood(seed):
    rng = np.random.default_rng(seed)
    data = grades(rng.standard_normal((14, 2)), np.append(np.arange(4), rng.integers(0, 4, 10)))
    at = np.concatenate([np.sort(rng.standard_normal(3)), rng.standard_normal(2)])
    at[:3] += 0.3 * np.arange(3)
    found = slope(data, point(data, at, weight=1.0), weight=1.0)
    steps = 1e-6 * np.eye(5)
    by_difference = [
        (point(data, at + one, weight=1.0).value - point(data, at - one, weight=1.0).value) / 2e-6
        for one in steps
    ]
    np.testing.assert_allclose(found, by_difference, rtol=2e-5, atol=2e-6)


@pytest.mark.property
@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_grades_turned_round_turn_the_slopes(seed):
    rng = np.random.default_rng(seed)
    X = rng.standard_normal((16, 2))
    grade = np.append(np.arange(3), rng.integers(0, 3, 13))
    one, other = (proportional_odds(grades(X, seen)) for seen in (grade, 2 - grade))
    np.testing.assert_allclose(other.slopes, -one.slopes, atol=1e-4)
    np.testing.assert_allclose(other.thresholds, -one.thresholds[::-1], atol=1e-4)


def test_separated_grades_keep_finite_estimates_and_limits():
    x = np.array([-1.0, -1, -1, -1, 1, 1, 1, 1])
    data = grades(x[:, None], np.array([0, 0, 1, 1, 2, 2, 2, 2]))
    solution = proportional_odds(data)
    span = ordered_limits(solution, np.ones(1), fall_allowed=CHI_SQUARE)
    assert solution.is_settled
    assert 0 < span.low < solution.slopes[0] < 6
    assert fall_at(solution, np.ones(1), value=span.low) == pytest.approx(CHI_SQUARE, abs=1e-4)


def test_limits_are_where_the_likelihood_has_fallen():
    solution = proportional_odds(visual_grades())
    way = np.array([1.0, -1.0, 0.0])
    span = ordered_limits(solution, way, fall_allowed=CHI_SQUARE)
    for end in (span.low, span.high):
        assert fall_at(solution, way, value=end) == pytest.approx(CHI_SQUARE, abs=1e-4)


def test_chances_add_to_one_and_follow_the_thresholds():
    chances = grade_chances(np.array([-1.0, 0.0, 2.0]), np.array([0.0, 0.5]))
    np.testing.assert_allclose(chances.sum(axis=1), 1.0)
    np.testing.assert_allclose(chances[0, 0], 1 / (1 + np.e))


class TestProportionality:
    def test_holds_its_rate_where_odds_are_proportional(self):
        rng = np.random.default_rng(4)
        below = []
        for _ in range(100):
            x = np.tile([-1.0, 1.0], 30)
            noise = np.log(1 / rng.random(60) - 1)
            grade = np.digitize(0.8 * x - noise, [-1.0, 0.0, 1.0])
            if np.unique(grade).size == 4:
                solution = proportional_odds(grades(x[:, None], grade))
                below.append(proportionality(solution, np.array([0])).p < 0.05)
        assert np.mean(below) <= 0.12

    def test_sees_a_slope_that_turns_round(self):
        x = np.repeat([-1.0, 1.0], 30)
        grade = np.concatenate(
            [np.repeat([0, 1, 2], [2, 26, 2]), np.repeat([0, 1, 2], [13, 4, 13])]
        )
        solution = proportional_odds(grades(x[:, None], grade))
        assert proportionality(solution, np.array([0])).p < 0.001
        low, high = slopes_by_threshold(solution)[:, 0]
        assert low < 0 < high

    def test_two_grades_have_nothing_to_compare(self):
        solution = proportional_odds(
            grades(np.array([[-1.0], [-1], [1], [1]]), np.array([0, 1, 0, 1]))
        )
        assert proportionality(solution, np.array([0])) is None


def test_draws_agree_with_the_profile():
    solution = proportional_odds(visual_grades())
    drawn = ordered_draws(solution, np.random.default_rng(3), n_draws=6000)
    assert (np.diff(drawn.thresholds, axis=1) > 0).all()
    low, high = np.quantile(drawn.slopes[:, 1], [0.025, 0.975])
    span = ordered_limits(solution, np.eye(3)[1], fall_allowed=CHI_SQUARE)
    assert low == pytest.approx(span.low, abs=0.25)
    assert high == pytest.approx(span.high, abs=0.15)


def test_short_run_of_the_study_of_grades():
    """A short run of tests/studies/count_and_grade_errors.py: size with four grades."""
    rng = np.random.default_rng(6)
    x = np.column_stack([np.tile([-1.0, 1.0], 8), np.repeat([-1.0, 1.0], 8)])
    below = []
    for _ in range(60):
        grade = np.digitize(x[:, 0] + np.log(1 / rng.random(16) - 1), [-1.1, 0.0, 1.1])
        used, seen = np.unique(grade, return_inverse=True)
        if used.size > 1:
            solution = proportional_odds(grades(x, seen.reshape(-1)))
            below.append(ordered_test(solution, np.array([1])).p < 0.05)
    assert np.mean(below) <= 0.15  # standard error 0.03
