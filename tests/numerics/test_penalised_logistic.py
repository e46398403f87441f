"""Firth's penalised logistic regression, its profiles, separation, draws and mean rates."""

from itertools import product

import numpy as np
import pytest
from scipy.special import chdtri, expit

from workbench.files.evidence import published
from workbench.numerics.contour_draws import contour_draws
from workbench.numerics.jeffreys_draws import posterior_draws
from workbench.numerics.pass_counts import pass_counts, penalised_values, slopes
from workbench.numerics.pass_dispersion import pass_dispersion
from workbench.numerics.penalised_logistic import intercept_shift, penalised_logistic
from workbench.numerics.penalised_profile import profile_limits, ratio_tests
from workbench.numerics.separation import separation

CHECKS = (
    "binary_endometrial",
    "binary_grouped",
    "binary_separated_16x3",
    "binary_separated_interactions",
    "firth-endometrial",
)
CHI2 = float(chdtri(1, 0.05))


def counted(name):
    """Return the check, its coefficient names and the counts."""
    check = published(name)
    data, names = check.tables["data"], list(check.expected["coef"])
    columns = [
        np.ones(len(data))
        if one == "Intercept"
        else np.prod([data[part].to_numpy(float) for part in one.split(":")], axis=0)
        for one in names
    ]
    if "HG" in data:
        passed, parts = data["HG"].to_numpy(float), np.ones(len(data))
    else:
        passed, parts = data["pass"].to_numpy(float), data["n"].to_numpy(float)
    return check, names, pass_counts(np.column_stack(columns), passed, parts)


def separated():
    """Return sixteen runs of three parts without a failure at the high end of the first column."""
    corners = np.array(list(product([-1.0, 1.0], repeat=4)))
    X = np.column_stack([np.ones(16), corners])
    passed = np.array([1, 2, 0, 1, 3, 2, 3, 3, 3, 3, 3, 3, 3, 3, 3, 3], dtype=float)
    return pass_counts(X, passed, np.full(16, 3.0))


@pytest.mark.reference("R brglm2 0.9 and base R optim; Heinze and Schemper 2002 (endometrial)")
@pytest.mark.parametrize("name", CHECKS)
def test_estimates_limits_and_tests_of_the_published_sets(name):
    check, names, counts = counted(name)
    fit = penalised_logistic(counts)
    limits = profile_limits(fit, range(len(names)), threshold=CHI2)
    tests = ratio_tests(fit, [[place] for place in range(len(names))])
    found = {
        "coef": fit.estimates,
        "se_wald": np.sqrt(np.diagonal(fit.covariance)),
        "profile_lower_95": limits.low,
        "profile_95_low": limits.low,
        "profile_upper_95": limits.high,
        "profile_95_high": limits.high,
        "penalised_lr_chisq": [one.statistic for one in tests],
        "penalised_lr_p": [one.p for one in tests],
    }
    assert fit.is_settled
    assert limits.found.all()
    compared = 0
    for group, values in check.expected.items():
        for place, key in enumerate(names if group in found else []):
            expected = values[key]
            assert abs(found[group][place] - expected.value) <= expected.tol, (group, key)
            compared += 1
    assert compared >= 16
    if "penalised_log_likelihood" in check.expected:
        expected = check.expected["penalised_log_likelihood"]["value"]
        assert abs(fit.penalised_log_likelihood - expected.value) <= expected.tol


@pytest.mark.property
def test_gradient_and_hessian_are_those_of_the_value():
    counts = separated()
    point = np.array([0.5, 0.8, -0.3, 0.2, 0.1])
    here = slopes(counts, point[None, :])
    for place, unit in enumerate(np.eye(5)):
        step = 1e-5 * unit
        rise = penalised_values(counts, np.array([point + step, point - step]))
        bend = slopes(counts, np.array([point + step, point - step])).gradient
        assert (rise[0] - rise[1]) / 2e-5 == pytest.approx(here.gradient[0, place], abs=1e-7)
        np.testing.assert_allclose((bend[0] - bend[1]) / 2e-5, here.hessian[0, place], atol=1e-7)


@pytest.mark.property
def test_one_row_a_part_and_grouped_counts_are_one_answer():
    grouped = separated()
    X = np.repeat(grouped.X, 3, axis=0)
    passed = np.concatenate([np.arange(3) < one for one in grouped.passed]).astype(float)
    single = penalised_logistic(pass_counts(X, passed, np.ones(48)))
    np.testing.assert_allclose(single.estimates, penalised_logistic(grouped).estimates, atol=1e-10)


@pytest.mark.property
def test_several_columns_together_fall_at_least_as_far_as_each_alone():
    fit = penalised_logistic(separated())
    alone = ratio_tests(fit, [[1], [2]])
    both = ratio_tests(fit, [[1, 2]])[0]
    assert both.df == 2
    assert both.statistic >= max(one.statistic for one in alone) - 1e-9


def test_separation_names_the_columns_that_run_off():
    found = separation(separated())
    assert found.is_separated
    assert not found.is_complete
    assert found.upward.tolist()[:2] == [True, True]
    assert not found.downward[1]
    assert not separation(counted("binary_grouped")[2]).is_separated


def test_separation_of_the_endometrial_set_is_that_of_one_column():
    _, names, counts = counted("binary_endometrial")
    found = separation(counts)
    assert [name for name, up in zip(names, found.upward, strict=True) if up] == ["NV"]
    assert not found.downward.any()


@pytest.mark.property
def test_shifted_intercept_makes_the_mean_rate_the_observed_one():
    counts = separated()
    logits = counts.X @ penalised_logistic(counts).estimates
    rates = expit(logits + intercept_shift(counts, logits))
    assert counts.parts @ rates == pytest.approx(counts.passed.sum(), abs=1e-9)
    # Puhr et al. 2017: the penalised rates themselves are pulled to one half.
    assert counts.parts @ expit(logits) < counts.passed.sum()


def test_draws_agree_with_quadrature_in_one_dimension():
    counts = pass_counts(np.ones((1, 1)), np.array([9.0]), np.array([10.0]))
    drawn = posterior_draws(
        penalised_logistic(counts), np.random.default_rng(4), n_draws=20_000
    ).points
    # Jeffreys' posterior of one rate is Beta(x + 1/2, n − x + 1/2), exactly.
    exact = np.random.default_rng(5).beta(9.5, 1.5, 200_000)
    for chance in (0.05, 0.5, 0.95):
        assert np.quantile(expit(drawn), chance) == pytest.approx(
            np.quantile(exact, chance), abs=0.01
        )


def test_draws_are_moved_where_weights_are_few_and_repeat_with_their_seed():
    _, _, counts = counted("binary_separated_interactions")
    fit = penalised_logistic(counts)
    first = posterior_draws(fit, np.random.default_rng(8), n_draws=1000)
    again = posterior_draws(fit, np.random.default_rng(8), n_draws=1000)
    assert first.was_moved
    assert first.effective < 1000
    np.testing.assert_array_equal(first.points, again.points)
    # Quantiles of 80,000 states of a long slice chain (tolerance: five Monte Carlo errors).
    middle = np.quantile(first.points, 0.5, axis=0)
    np.testing.assert_allclose(middle, [2.97, 1.86, 1.04, -0.55, 1.03, -1.06, 0.55], atol=0.25)


@pytest.mark.property
def test_contours_in_one_dimension_are_the_profile():
    counts = pass_counts(np.ones((1, 1)), np.array([9.0]), np.array([10.0]))
    fit = penalised_logistic(counts)
    drawn = contour_draws(fit, np.random.default_rng(6), n_draws=40_000)
    ends = profile_limits(fit, [0], threshold=CHI2)
    low, high = np.quantile(drawn, [0.025, 0.975])
    # Four Monte Carlo errors of a 2.5 % quantile of 40,000 draws.
    assert low == pytest.approx(ends.low[0], abs=0.07)
    assert high == pytest.approx(ends.high[0], abs=0.15)


def test_an_end_lost_to_rounding_is_said_not_found():
    fit = penalised_logistic(separated())
    far = profile_limits(fit, [0, 1], threshold=200.0)
    near = profile_limits(fit, [0, 1], threshold=10.0)
    assert not far.found.all()
    assert near.found.all()


def test_dispersion_is_one_by_chance_and_grows_with_scatter_between_runs():
    rng = np.random.default_rng(3)
    parts, rates = np.full(4000, 5.0), np.full(4000, 0.8)
    groups = np.arange(4000)
    by_chance = rng.binomial(5, 0.8, 4000).astype(float)
    uneven = rng.binomial(5, rng.beta(4, 1, 4000)).astype(float)
    even = pass_dispersion((by_chance, parts), rates, group=groups, n_columns=1)
    # Beta(4, 1) rates have correlation 1/6 within a run: 1 + 4/6 (Williams 1982).
    wide = pass_dispersion((uneven, parts), rates, group=groups, n_columns=1)
    assert even == pytest.approx(1.0, abs=0.1)
    assert wide == pytest.approx(1 + 4 / 6, abs=0.15)
