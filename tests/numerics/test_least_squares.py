"""Least squares held against certified values, exact sums and brute force."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.files.evidence import published, published_names
from workbench.numerics.least_squares import (
    factored,
    joint_sum_of_squares,
    least_squares,
    press_residuals,
    solved,
    studentised_residuals,
)

LINEAR = [n for n in published_names() if n.startswith("nist-strd") and not n.endswith("anova")]
ANOVA = published("nist-strd-anova")


def matrix_of(name):
    check = published(name)
    data = check.tables["data"]
    if name.endswith("longley"):
        predictors = data[[f"x{i}" for i in range(1, 7)]].to_numpy(float)
        return check, np.column_stack([np.ones(len(data)), predictors]), data["y"].to_numpy(float)
    x = data["x"].to_numpy(float)
    powers = [int(key[1:]) for key in check.expected["coef"]]
    return check, np.column_stack([x**power for power in powers]), data["y"].to_numpy(float)


@pytest.mark.published(source="NIST StRD, linear least squares")
@pytest.mark.parametrize("name", LINEAR)
def test_certified_regressions(name):
    check, X, y = matrix_of(name)
    whole = factored(X)
    solution = solved(whole, y)
    assert whole.rank == X.shape[1]
    variance = solution.rss / whole.error_df
    std_errors = np.sqrt(variance * np.diag(whole.unscaled_covariance()))
    about = 0.0 if "noint" in name else y.mean()
    total = ((y - about) ** 2).sum()
    model_df = whole.rank - ("noint" not in name)
    found = {
        "coef": dict(zip(check.expected["coef"], solution.estimates, strict=True)),
        "se": dict(zip(check.expected["se"], std_errors, strict=True)),
        "fit": {"residual_sd": np.sqrt(variance), "r_squared": 1 - solution.rss / total},
        "anova": {
            "ss_residual": solution.rss,
            "df_residual": whole.error_df,
            "df_regression": model_df,
            "F": (total - solution.rss) / model_df / variance if variance > 1e-20 else np.inf,
        },
    }
    for group, values in check.expected.items():
        for key, expected in values.items():
            value = found[group][key]
            assert abs(value - expected.value) <= expected.tol, (group, key, value)


def made_by_rule(name):
    """Return groups and readings of a set that is stored as its rule (see the check's notes)."""
    number = int(name[-2:])
    base = {0: 1.0, 1: 1e6, 2: 1e12}[(number - 1) // 3]
    rows = (21, 201, 2001)[(number - 1) % 3]
    steps = np.append(0.0, np.where(np.arange(rows - 1) % 2 == 0, -0.1, 0.1))
    centres = base + np.array([0.4, 0.3, 0.5, 0.3, 0.5, 0.3, 0.5, 0.3, 0.5])
    # The printed readings have one decimal: rounding each once gives what a file would hold.
    readings = np.round((centres[:, None] + steps).ravel(), 1)
    return np.repeat(np.arange(9), rows), readings


@pytest.mark.published(source="NIST StRD, analysis of variance; Simon and Lesage 1989")
@pytest.mark.parametrize("name", list(ANOVA.expected))
def test_certified_analyses_of_variance(name):
    data = ANOVA.tables["data"]
    stored = data[data["set"] == name]
    if len(stored):
        group, y = stored["treatment"].to_numpy() - 1, stored["response"].to_numpy(float)
        group = group - group.min()
    else:
        group, y = made_by_rule(name)
    levels = int(group.max()) + 1
    own = (group[:, None] == np.arange(levels - 1)).astype(float)
    X = np.column_stack([np.ones(y.size), own - (group == levels - 1)[:, None]])
    whole = factored(X)
    centred = y - y.mean()
    solution = solved(whole, centred)
    between = float(
        joint_sum_of_squares(solution.estimates[1:], whole.unscaled_covariance()[1:, 1:])
    )
    within = float(solution.rss)
    mean_square = within / whole.error_df
    found = {
        "df_between": levels - 1,
        "df_within": whole.error_df,
        "ss_between": between,
        "ms_between": between / (levels - 1),
        "F": between / (levels - 1) / mean_square,
        "ss_within": within,
        "ms_within": mean_square,
        "r_squared": between / (between + within),
        "residual_sd": np.sqrt(mean_square),
    }
    for key, expected in ANOVA.expected[name].items():
        assert abs(found[key] - expected.value) <= expected.tol, (key, found[key])


def test_of_dependent_columns_the_earlier_stays():
    a, b = np.array([-1.0, 1, -1, 1]), np.array([-1.0, -1, 1, 1])
    X = np.column_stack([np.ones(4), a, b, a * b, 2 * a - 0.5 * b, a])
    whole = factored(X)
    assert whole.kept.tolist() == [True, True, True, True, False, False]
    np.testing.assert_allclose(whole.combination[:, 4], [0, 2, -0.5, 0, 0, 0], atol=1e-12)
    np.testing.assert_allclose(X @ whole.combination, X, atol=1e-12)


def test_a_column_of_zeros_is_nothing():
    whole = factored(np.column_stack([np.ones(3), np.zeros(3), [1.0, 2, 4]]))
    assert whole.kept.tolist() == [True, False, True]
    assert not whole.combination[:, 1].any()


def test_more_columns_than_rows():
    X = np.vander(np.arange(1.0, 4), 5, increasing=True)
    whole = factored(X)
    assert whole.kept.tolist() == [True, True, True, False, False]
    assert whole.error_df == 0


def test_many_outcomes_are_each_alone():
    rng = np.random.default_rng(1)
    X, outcomes = rng.normal(size=(20, 6)), rng.normal(size=(20, 7))
    together = least_squares(X, outcomes)
    for j in range(7):
        alone = least_squares(X, outcomes[:, j])
        np.testing.assert_allclose(together.estimates[:, j], alone.estimates, atol=1e-12)
        assert together.rss[j] == pytest.approx(float(alone.rss))


@pytest.mark.property
@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), n=st.integers(6, 20), p=st.integers(1, 5))
def test_press_and_studentised_residuals_leave_one_out(seed, n, p):
    rng = np.random.default_rng(seed)
    X, y = np.column_stack([np.ones(n), rng.normal(size=(n, p - 1))]), rng.normal(size=n)
    whole = factored(X)
    found = solved(whole, y)
    press = press_residuals(found.residuals, whole.leverage())
    student = None
    if whole.error_df > 1:
        student = studentised_residuals(found.residuals, whole.leverage(), whole.error_df)
    for i in range(n):
        rest = np.arange(n) != i
        b, rss, *_ = np.linalg.lstsq(X[rest], y[rest])
        assert press[i] == pytest.approx(y[i] - X[i] @ b, abs=1e-8)
        if student is not None:
            variance = rss[0] / (whole.error_df - 1)
            spread = np.sqrt(variance * (1 - whole.leverage()[i]))
            assert student[i] == pytest.approx(found.residuals[i] / spread, abs=1e-6)


def test_a_run_that_is_met_exactly_has_no_press_residual():
    X = np.column_stack([np.ones(5), [0.0, 0, 0, 0, 1]])
    whole = factored(X)
    found = solved(whole, np.array([1.0, 2, 3, 4, 9]))
    press = press_residuals(found.residuals, whole.leverage())
    assert press[4] == 0
    assert np.isfinite(press).all()


@pytest.mark.property
@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), q=st.integers(1, 3))
def test_joint_sum_of_squares_is_what_leaving_out_costs(seed, q):
    rng = np.random.default_rng(seed)
    X, y = rng.normal(size=(15, 6)), rng.normal(size=15)
    whole = factored(X)
    found = solved(whole, y)
    squares = joint_sum_of_squares(found.estimates[-q:], whole.unscaled_covariance()[-q:, -q:])
    without = least_squares(X[:, :-q], y)
    assert float(squares) == pytest.approx(float(without.rss - found.rss), rel=1e-8)
