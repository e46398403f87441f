"""Restricted maxima, full likelihoods and profile limits against dense formulas and searches."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize
from statsmodels.regression.mixed_linear_model import MixedLM

from workbench.numerics.random_terms import random_terms
from workbench.numerics.reml import full_likelihood, reml
from workbench.numerics.variance_profile import variance_limits_by_profile

HALF_CHI_SQUARE = 3.841458820694124 / 2


def dense(y, X, levels):
    """Return the textbook restricted log-likelihood of variances, X made orthonormal."""
    Q = np.linalg.qr(X)[0]
    alike = [(one[:, None] == one).astype(float) for one in levels]

    def value(variances):
        covariance = variances[-1] * np.eye(y.size)
        for variance, one in zip(variances[:-1], alike, strict=True):
            covariance = covariance + variance * one
        inverse = np.linalg.inv(covariance)
        middle = Q.T @ inverse @ Q
        projection = inverse - inverse @ Q @ np.linalg.solve(middle, Q.T @ inverse)
        logs = np.linalg.slogdet(covariance)[1] + np.linalg.slogdet(middle)[1]
        df = y.size - X.shape[1]
        return -0.5 * (df * np.log(2 * np.pi) + logs + y @ projection @ y)

    return value


def stratum_df(X, levels, which):
    """Return rank gained by the levels of a term over X, or what is left to the residual."""
    columns = [(one[:, None] == np.unique(one)).astype(float) for one in levels]
    rank = np.linalg.matrix_rank
    if which < len(levels):
        return rank(np.column_stack([X, columns[which]])) - rank(X)
    return X.shape[0] - rank(np.column_stack([X, *columns]))


def trial_of(rng, ratios):
    """Return a random unbalanced layout with as many random terms as ratios."""
    n = int(rng.integers(14, 30))
    X = np.column_stack([np.ones(n), rng.choice([-1.0, 1.0], size=(n, 2))])
    levels = [rng.integers(0, rng.integers(4, 7), size=n) for _ in ratios]
    y = X @ rng.normal(size=3) + rng.normal(size=n)
    for ratio, one in zip(ratios, levels, strict=True):
        y = y + np.sqrt(ratio) * rng.normal(size=10)[one]
    return X, levels, y


@pytest.mark.property
@settings(max_examples=10, deadline=None)
@given(
    seed=st.integers(0, 2**32 - 1),
    ratios=st.lists(st.sampled_from([0.0, 0.5, 3.0, 200.0]), min_size=1, max_size=3),
)
def test_no_search_finds_a_higher_restricted_likelihood(seed, ratios):
    rng = np.random.default_rng(seed)
    X, levels, y = trial_of(rng, ratios)
    terms = random_terms(X, levels)
    if terms.fixed.rank < 3 or not terms.estimable.all():
        return
    fit = reml(terms, y, negative=False)
    assert fit.status == "converged"
    value = dense(y, X, levels)
    assert fit.log_likelihood == pytest.approx(value(fit.variances), abs=1e-7)
    for _ in range(2):
        start = np.log(fit.variances + 0.05) + rng.normal(size=len(ratios) + 1)
        found = minimize(
            lambda v: -value(np.exp(np.clip(v, -30, 30))), start, method="Nelder-Mead"
        )
        assert fit.log_likelihood > -found.fun - 1e-6
    free = reml(terms, y, negative=True)
    if free.status == "converged":
        assert free.log_likelihood > fit.log_likelihood - 1e-9


@pytest.mark.property
@settings(max_examples=4, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), ratio=st.sampled_from([0.0, 1.0, 20.0]))
def test_limits_are_where_the_profile_has_fallen(seed, ratio):
    rng = np.random.default_rng(seed)
    X, levels, y = trial_of(rng, [ratio, 0.5])
    terms = random_terms(X, levels)
    if terms.fixed.rank < 3 or not terms.estimable.all():
        return
    fit = reml(terms, y, negative=False)
    value = dense(y, X, levels)
    spans = variance_limits_by_profile(terms, y, fit=fit, confidence=0.95)
    for which, span in enumerate(spans):
        assert span.low <= fit.variances[which] <= span.high
        for end in (span.low, span.high):
            if end == 0:
                continue
            others = np.delete(np.arange(3), which)

            def fallen(logs, end=end, which=which, others=others):
                variances = np.empty(3)
                variances[which] = end
                variances[others] = np.exp(np.clip(logs, -30, 30))
                return -value(variances)

            found = min(
                minimize(
                    fallen,
                    np.log(fit.variances[others] + shift),
                    method="Nelder-Mead",
                    options={"xatol": 1e-6, "fatol": 1e-9, "maxiter": 4000},
                ).fun
                for shift in (1e-6, 0.1, 1.0, 10.0)
            )
            allowed = HALF_CHI_SQUARE * (1 + 1 / (3 * stratum_df(X, levels, which)))
            assert fit.log_likelihood + found == pytest.approx(allowed, abs=1e-4)


def test_the_residual_alone_has_the_likelihood_of_a_chi_square():
    rng = np.random.default_rng(5)
    X, y = np.column_stack([np.ones(9), rng.normal(size=9)]), rng.normal(size=9)
    terms = random_terms(X, [])
    fit = reml(terms, y, negative=False)
    rss = float(np.linalg.lstsq(X, y)[1][0])
    assert fit.residual == pytest.approx(rss / 7, rel=1e-12)
    (span,) = variance_limits_by_profile(terms, y, fit=fit, confidence=0.95)
    for end in (span.low, span.high):
        ratio = rss / 7 / end
        wanted = 2 * HALF_CHI_SQUARE * (1 + 1 / 21)
        assert 7 * (ratio - 1 - np.log(ratio)) == pytest.approx(wanted, rel=1e-8)


@pytest.mark.reference(library="statsmodels MixedLM, full likelihood")
def test_the_full_likelihood():
    rng = np.random.default_rng(11)
    groups = np.repeat(np.arange(8), 4)
    X = np.column_stack([np.ones(32), rng.normal(size=(32, 2))])
    y = X @ [3.0, 1.0, -1.0] + rng.normal(size=8)[groups] * 1.5 + rng.normal(size=32)
    fit = full_likelihood(random_terms(X, [groups]), y)
    other = MixedLM(y, X, groups).fit(reml=False)
    assert fit.log_likelihood == pytest.approx(other.llf, abs=1e-6)
    assert fit.residual == pytest.approx(other.scale, rel=1e-4)
    assert fit.variances[0] == pytest.approx(other.cov_re[0, 0], rel=1e-3)
