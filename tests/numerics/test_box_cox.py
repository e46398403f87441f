"""The power of an outcome in a regression, against the paper and two worked examples."""

import numpy as np
import pytest

from workbench.files.evidence import published
from workbench.numerics.box_cox import power_profile, profile_log_likelihood
from workbench.numerics.least_squares import factored


def sum_to_zero(column):
    levels = list(dict.fromkeys(column))
    own = np.array([[float(one == level) for level in levels[:-1]] for one in column])
    return own - np.array([[float(one == levels[-1])] for one in column])


@pytest.mark.published(source="Box and Cox 1964, JRSS B 26, 211-252, first example")
def test_survival_times_of_the_paper():
    check = published("box-cox-poisons")
    data = check.tables["data"]
    X = np.hstack(
        [np.ones((len(data), 1)), sum_to_zero(data["poison"]), sum_to_zero(data["treatment"])]
    )
    whole, y = factored(X), data["time"].to_numpy(float)
    found = power_profile(whole, y)
    top = profile_log_likelihood(whole, y, found.best)
    values = {
        "lambda_hat": found.best,
        "lambda_hat_exact": found.best,
        "ci95_low": found.low,
        "ci95_low_exact": found.low,
        "ci95_high": found.high,
        "ci95_high_exact": found.high,
        "log_likelihood_drop_at_minus_1": top - profile_log_likelihood(whole, y, -1),
        "log_likelihood_drop_at_1": top - profile_log_likelihood(whole, y, 1),
    }
    for key, expected in check.expected["profile_additive"].items():
        assert abs(values[key] - expected.value) <= expected.tol, key


@pytest.mark.published(source="NIST/SEMATECH e-Handbook 5.4.7.1")
def test_ceramic_strength():
    check = published("hb-ceramic-2x5")
    data = check.tables["data"]
    x = dict(enumerate(data[["speed", "rate", "grit", "direction", "batch"]].to_numpy(float).T, 1))
    products = [(1,), (2,), (1, 2), (3,), (1, 3), (4,), (1, 4), (2, 4), (1, 2, 4), (3, 4), (5,)]
    products.append((4, 5))
    X = np.column_stack([np.ones(32), *(np.prod([x[i] for i in one], axis=0) for one in products)])
    found = power_profile(factored(X), data["strength"].to_numpy(float))
    expected = check.expected["power_transform"]
    for key, value in (
        # The Handbook states the rounded optimum 0.2; the exact one is 0.270.
        ("lambda_hat_exact", found.best),
        ("ci95_low", found.low),
        ("ci95_high", found.high),
    ):
        assert abs(value - expected[key].value) <= expected[key].tol
    assert found.low < expected["lambda_hat_rounded_to_0.2_grid"].value < found.high


def test_readings_that_hardly_differ_leave_the_power_open():
    rng = np.random.default_rng(3)
    whole = factored(np.ones((12, 1)))
    found = power_profile(whole, 100 + rng.normal(size=12))
    assert found.low is None or found.high is None
