"""One random intercept by adaptive quadrature, against brute-force integration."""

import numpy as np
import pytest
from scipy.integrate import quad

from workbench.numerics.pass_counts import PassCounts
from workbench.numerics.pass_rows import JeffreysPenalty, PassRows
from workbench.numerics.random_intercept import (
    grouping,
    intercept_span,
    marginal,
    random_intercept,
)

GROUP = np.repeat(np.arange(6), 4)
X = np.column_stack([np.ones(24), np.tile([-1.0, 1.0], 12), np.repeat([-1.0, 1.0, -1.0], 8)])


def simulated(sd, *, parts=5, seed=1):
    rng = np.random.default_rng(seed)
    logits = 0.8 + 0.7 * X[:, 1] + sd * rng.standard_normal(6)[GROUP]
    passed = rng.binomial(parts, 1 / (1 + np.exp(-logits))).astype(float)
    return PassCounts(
        X=X.copy(), passed=passed, parts=np.full(24, float(parts)), offset=np.zeros(24)
    )


def integrated(counts, parameters, sd):
    """Return the log-likelihood by adaptive quadrature over each group's intercept."""
    total = 0.0
    for one in range(6):
        rows = one == GROUP

        def height(u, rows=rows):
            logits = counts.X[rows] @ parameters + sd * u
            value = counts.passed[rows] @ logits - counts.parts[rows] @ np.logaddexp(0, logits)
            return np.exp(value - u * u / 2) / np.sqrt(2 * np.pi)

        total += np.log(quad(height, -9, 9, epsabs=0, epsrel=1e-12)[0])
    return total


@pytest.mark.reference("scipy.integrate.quad, group by group")
def test_marginal_likelihood_is_that_of_brute_force():
    counts, parameters = simulated(1.0), np.array([0.9, 0.5, -0.2])
    found = marginal(PassRows(counts=counts), grouping(GROUP), (parameters, 0.8))
    assert found.value == pytest.approx(integrated(counts, parameters, 0.8), abs=1e-10)


@pytest.mark.property
def test_gradient_is_that_of_the_value():
    rows, groups = PassRows(counts=simulated(1.0)), grouping(GROUP)
    point = np.array([0.9, 0.5, -0.2, 0.8])
    found = marginal(rows, groups, (point[:-1], point[-1])).gradient
    for place, unit in enumerate(np.eye(4)):
        up, down = point + 1e-5 * unit, point - 1e-5 * unit
        rise = marginal(rows, groups, (up[:-1], up[-1])).value
        rise -= marginal(rows, groups, (down[:-1], down[-1])).value
        assert rise / 2e-5 == pytest.approx(found[place], abs=1e-7)


@pytest.mark.property
def test_no_point_nearby_is_higher_than_the_fit():
    counts = simulated(1.5)
    rows, groups = PassRows(counts=counts), grouping(GROUP)
    fit = random_intercept(rows, groups, np.zeros(3))
    assert fit.is_settled
    assert fit.sd > 0.3
    best = integrated(counts, fit.parameters, fit.sd)
    assert best == pytest.approx(fit.log_likelihood, abs=1e-9)
    for unit in np.eye(4):
        for step in (0.05, -0.05):
            moved = np.append(fit.parameters, fit.sd) + step * unit
            assert integrated(counts, moved[:-1], moved[-1]) < best


def test_scatter_below_chance_is_zero_and_its_interval_begins_there():
    counts = simulated(0.0, seed=2)
    even = PassCounts(
        X=counts.X, passed=np.full(24, 4.0), parts=np.full(24, 5.0), offset=np.zeros(24)
    )
    rows, groups = PassRows(counts=even), grouping(GROUP)
    fit = random_intercept(rows, groups, np.zeros(3))
    span = intercept_span(rows, groups, fit, threshold=3.84)
    assert fit.sd == 0
    assert span.low == 0
    assert 0.1 < span.high < 3


def test_penalty_keeps_a_separated_fit_finite():
    counts = simulated(1.0)
    passed = np.where(X[:, 1] > 0, 5.0, counts.passed)
    apart = PassCounts(X=X.copy(), passed=passed, parts=np.full(24, 5.0), offset=np.zeros(24))
    fit = random_intercept(
        PassRows(counts=apart),
        grouping(GROUP),
        np.zeros(3),
        penalty=JeffreysPenalty(counts=apart),
    )
    assert np.isfinite(fit.parameters).all()
    assert 0.5 < fit.parameters[1] < 6
