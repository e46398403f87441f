"""Draws of a mixed model held against the posterior that balanced plans have in closed form."""

import numpy as np
import pytest
from scipy import stats

from workbench.numerics.mixed_posterior import mixed_draws
from workbench.numerics.random_terms import random_terms

N_DRAWS = 8000


def balanced(seed, ratio):
    """Return a one-way layout of 8 levels with 4 rows, one slope between and one within."""
    rng = np.random.default_rng(seed)
    level = np.repeat(np.arange(8), 4)
    between, within = np.repeat([-1.0, 1.0], 16), np.tile([-1.0, 1.0], 16)
    X = np.column_stack([np.ones(32), between, within])
    y = 3 + between - within + np.sqrt(ratio) * rng.normal(size=8)[level] + rng.normal(size=32)
    return X, level, y


@pytest.mark.published(source="Box and Tiao 1973, section 5.2: truncated inverse chi-squares")
@pytest.mark.parametrize(("seed", "ratio"), [(1, 0.0), (2, 0.5), (3, 5.0), (4, 300.0)])
def test_variances_of_a_balanced_layout(seed, ratio):
    X, level, y = balanced(seed, ratio)
    drawn = mixed_draws(np.random.default_rng(9), random_terms(X, [level]), y, n_draws=N_DRAWS)
    means = np.array([y[level == one].mean() for one in range(8)])
    between = 4 * np.linalg.lstsq(X[::4, :2], means)[1][0]
    own = y - means[level]
    slope = X[:, 2]
    within = ((own - slope * (slope @ own) / 32) ** 2).sum()
    rng = np.random.default_rng(5)
    residual, sums = within / rng.chisquare(23, 400_000), between / rng.chisquare(6, 400_000)
    kept = sums > residual
    exact = {"residual": residual[kept], "level": (sums - residual)[kept] / 4}
    found = {"residual": drawn.variances[:, 1], "level": drawn.variances[:, 0]}
    for name, values in exact.items():
        share = np.searchsorted(np.sort(values), np.quantile(found[name], [0.1, 0.5, 0.9, 0.97]))
        np.testing.assert_allclose(share / values.size, [0.1, 0.5, 0.9, 0.97], atol=0.015)
    assert drawn.effective > 500


def test_coefficients_follow_the_strata():
    X, level, y = balanced(2, 2.0)
    drawn = mixed_draws(np.random.default_rng(9), random_terms(X, [level]), y, n_draws=N_DRAWS)
    means = np.array([y[level == one].mean() for one in range(8)])
    estimates, rss = np.linalg.lstsq(X[::4, :2], means)[:2]
    # Where the truncation at zero hardly matters a coefficient is t with the df of its stratum.
    scaled = (drawn.coefficients[:, 1] - estimates[1]) / np.sqrt(rss[0] / 6 / 8)
    assert stats.kstest(scaled, stats.t(6).cdf).statistic < 0.03
    assert drawn.coefficients[:, 2].mean() == pytest.approx(X[:, 2] @ y / 32, abs=0.01)


@pytest.mark.parametrize("n_terms", [2, 3])
def test_several_terms_agree_with_a_chain(n_terms):
    """A slow random walk over log variances must find the same quantiles."""
    rng = np.random.default_rng(20 + n_terms)
    levels = [np.repeat(np.arange(8), 4), np.tile(np.arange(4), 8), rng.integers(0, 6, 32)]
    X, y = np.ones((32, 1)), rng.normal(size=32)
    for one in levels[:n_terms]:
        y = y + rng.normal(size=8)[one]
    terms = random_terms(X, levels[:n_terms])
    drawn = mixed_draws(np.random.default_rng(3), terms, y, n_draws=N_DRAWS)
    chain = walked(terms, y, rng)
    for which in range(n_terms + 1):
        edges = np.quantile(drawn.variances[:, which], [0.25, 0.5, 0.75])
        share = np.searchsorted(np.sort(chain[:, which]), edges) / chain.shape[0]
        np.testing.assert_allclose(share, [0.25, 0.5, 0.75], atol=0.08)
    assert drawn.effective > 400


def walked(terms, y, rng):
    alike = [
        terms.Z[:, terms.owner == one] @ terms.Z[:, terms.owner == one].T
        for one in range(terms.n_terms)
    ] + [np.eye(y.size)]
    seen = [terms.K.T @ one @ terms.K for one in alike]
    u = terms.K.T @ y

    def log_density(logs):
        variances = np.exp(logs)
        covariance = sum(v * one for v, one in zip(variances, seen, strict=True))
        inverse = np.linalg.inv(covariance)
        turned = [inverse @ one for one in seen]
        expected = [[np.sum(a * b.T) for b in turned] for a in turned]
        value = -0.5 * np.linalg.slogdet(covariance)[1] - 0.5 * u @ inverse @ u
        return value + 0.5 * np.linalg.slogdet(np.array(expected))[1] + logs.sum()

    logs = np.zeros(terms.n_terms + 1)
    here, kept = log_density(logs), []
    for step in range(16_000):
        trial = logs + rng.normal(size=logs.size) * rng.choice([0.25, 0.8])
        there = log_density(trial)
        if np.log(rng.random()) < there - here:
            logs, here = trial, there
        if step > 1000:
            kept.append(np.exp(logs))
    return np.array(kept)


def test_same_seed_same_draws_and_no_random_term():
    X, level, y = balanced(1, 1.0)
    terms = random_terms(X, [level])
    one = mixed_draws(np.random.default_rng(4), terms, y, n_draws=100)
    two = mixed_draws(np.random.default_rng(4), terms, y, n_draws=100)
    np.testing.assert_array_equal(one.coefficients, two.coefficients)
    plain = mixed_draws(np.random.default_rng(4), random_terms(X, []), y, n_draws=N_DRAWS)
    rss = np.linalg.lstsq(X, y)[1][0]
    assert 29 * rss / 29 / np.mean(1 / plain.variances[:, 0]) ** -1 == pytest.approx(29, rel=0.02)


@pytest.mark.parametrize(("seed", "ratio"), [(1, 0.0), (2, 0.5), (3, 5.0)])
def test_half_cauchy_ratios_agree_with_a_sum_over_a_grid(seed, ratio):
    """With one balanced term the density of √γ can be summed: prior 1/(1 + γ), σ² integrated."""
    X, level, y = balanced(seed, ratio)
    terms = random_terms(X, [level])
    rng = np.random.default_rng(9)
    drawn = mixed_draws(rng, terms, y, n_draws=N_DRAWS, half_cauchy=True)
    root = np.tan((np.arange(4000) + 0.5) / 4000 * np.pi / 2)  # even in the prior itself
    means = np.array([y[level == one].mean() for one in range(8)])
    between = 4 * np.linalg.lstsq(X[::4, :2], means)[1][0]
    own = y - means[level]
    within = ((own - X[:, 2] * (X[:, 2] @ own) / 32) ** 2).sum()
    wider = 1 + 4 * root**2
    logs = -3 * np.log(wider) - 14.5 * np.log(within + between / wider)  # 6 and 23 df
    weight = np.exp(logs - logs.max())
    found = np.sqrt(drawn.variances[:, 0] / drawn.variances[:, 1])
    edges = np.quantile(found, [0.1, 0.5, 0.9, 0.97])
    share = np.interp(edges, root, np.cumsum(weight) / weight.sum())
    np.testing.assert_allclose(share, [0.1, 0.5, 0.9, 0.97], atol=0.015)
