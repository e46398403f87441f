"""Draws from densities whose answers are known."""

import numpy as np
import pytest
from scipy import stats

from workbench.numerics.posterior_sampling import Guess, sampled


def guess(p, at=0.0):
    return Guess(point=np.full(p, at), axes=np.eye(p))


def test_correlated_normal():
    covariance = np.array([[2.0, 1.2], [1.2, 1.0]])
    inverse = np.linalg.inv(covariance)

    def values(points):
        return -0.5 * np.einsum("ij,jk,ik->i", points - 3, inverse, points - 3)

    found = sampled(values, guess(2), np.random.default_rng(1), n_draws=8000)
    np.testing.assert_allclose(found.points.mean(axis=0), 3, atol=0.08)
    np.testing.assert_allclose(np.cov(found.points.T), covariance, atol=0.12)
    assert not found.was_moved


def test_leaning_gamma_by_its_logarithm():
    def values(points):
        return 0.7 * points[:, 0] - np.exp(np.minimum(points[:, 0], 50))

    found = sampled(values, guess(1), np.random.default_rng(2), n_draws=8000)
    assert stats.kstest(np.exp(found.points[:, 0]), stats.gamma(0.7).cdf).statistic < 0.03


def test_bent_density_is_moved_to_by_slices():
    """A bent density in six dimensions that the split t misses."""

    def values(points):
        bent = points[:, 1] - (points[:, 0] ** 2 - 1)
        rest = (points[:, 2:] ** 2).sum(axis=1)
        return -0.5 * (points[:, 0] ** 2 + bent**2 + rest)

    found = sampled(values, guess(6), np.random.default_rng(3), n_draws=4000)
    assert found.was_moved
    assert found.points[:, 0].std() == pytest.approx(1.0, abs=0.15)
    assert found.points[:, 2].std() == pytest.approx(1.0, abs=0.1)


def test_same_seed_same_draws():
    def values(points):
        return -0.5 * (points**2).sum(axis=1)

    one, other = (
        sampled(values, guess(2), np.random.default_rng(7), n_draws=500).points for _ in range(2)
    )
    np.testing.assert_array_equal(one, other)
