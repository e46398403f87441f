"""Draws against what they are drawn from, and products against their derivatives."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from workbench.numerics.monomials import exponents_of_order, monomials
from workbench.numerics.posterior import (
    coefficient_draws,
    form_draws,
    normal_share,
    stream,
    variance_draws,
)

N_DRAWS = 40_000
SE = 4  # standard errors allowed to a simulated number


@pytest.mark.reference("SciPy")
def test_normal_share_is_the_normal_distribution_function():
    z = np.linspace(-12, 12, 20_001).astype(np.float32)
    np.testing.assert_allclose(normal_share(z), stats.norm.cdf(z.astype(float)), atol=3e-7)
    far = z[(z < -1) & (z > -4)]
    np.testing.assert_allclose(normal_share(far), stats.norm.cdf(far.astype(float)), rtol=2e-3)


@pytest.mark.reference("SciPy")
def test_variance_draws_follow_the_scaled_inverse_chi_square():
    draws = variance_draws(np.random.default_rng(1), 2.5, df=7, n_draws=N_DRAWS)
    assert stats.kstest(draws, stats.invgamma(3.5, scale=3.5 * 2.5).cdf).pvalue > 1e-3


def test_coefficient_draws_have_the_covariance_of_the_fit():
    unscaled = np.array([[0.5, 0.2], [0.2, 0.4]])
    draws = coefficient_draws(
        np.random.default_rng(2),
        np.array([1.0, -2.0]),
        unscaled=unscaled,
        variances=np.full(N_DRAWS, 3.0),
    )
    np.testing.assert_allclose(draws.mean(axis=0), [1, -2], atol=SE * 1.3 / np.sqrt(N_DRAWS))
    np.testing.assert_allclose(np.cov(draws.T), 3 * unscaled, atol=SE * 2.2 / np.sqrt(N_DRAWS))


def test_left_out_coefficients_are_a_part_of_the_slopes():
    slopes = np.tile([3.0, 4.0], (N_DRAWS, 1))
    draws = form_draws(np.random.default_rng(3), slopes, n_columns=2, kappa=0.3)
    # kappa² × mean square of the slopes × E|N|² × E N² = 0.09 × 12.5
    assert np.mean(draws**2) == pytest.approx(0.09 * 12.5, rel=0.06)
    none = form_draws(np.random.default_rng(3), slopes[:, :0], n_columns=2, kappa=0.3)
    assert not none.any()


def test_a_seed_gives_each_outcome_its_own_stream():
    one, again = stream(5, "peel force"), stream(5, "peel force")
    other = stream(5, "leak rate")
    first = one.random(4)
    np.testing.assert_array_equal(first, again.random(4))
    assert not np.array_equal(first, other.random(4))


@pytest.mark.property
@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 1000), axis=st.integers(0, 2))
def test_derivatives_are_the_limit_of_differences(seed, axis):
    rng = np.random.default_rng(seed)
    x = rng.uniform(-1, 1, (5, 3))
    exponents = np.vstack([exponents_of_order(3, order) for order in range(4)])
    step = np.zeros(3)
    step[axis] = 1e-5
    slope = (monomials(x + step, exponents) - monomials(x - step, exponents)) / 2e-5
    np.testing.assert_allclose(monomials(x, exponents, by=(axis,)), slope, atol=1e-8)


def test_there_are_ten_products_of_third_order_in_three_factors():
    assert exponents_of_order(3, 3).shape == (10, 3)
