"""Unequal scatter: references of other libraries, and size by simulation."""

import numpy as np
import pytest

from workbench.files.evidence import published
from workbench.numerics.log_variances import (
    Cells,
    equal_variances,
    gamma_limits,
    gamma_test,
    gamma_variances,
    log_variance_regression,
    two_scatters,
)


def meets(expected, values):
    for one, value in zip(expected.values(), values, strict=True):
        assert abs(value - one.value) <= one.tol


def replicated():
    table = published("dispersion_replicated").tables["data"]
    found = table.groupby(["A", "B", "C"]).y.agg(["var", "count"]).reset_index()
    X = np.column_stack([np.ones(len(found)), found[["A", "B", "C"]].to_numpy(float)])
    return Cells(X=X, variance=found["var"].to_numpy(), df=found["count"].to_numpy() - 1.0)


@pytest.mark.reference("R 4.2.2 lm, glm (Gamma, log), bartlett.test")
class TestReplicated:
    def test_log_variances(self):
        expected, found = published("dispersion_replicated").expected, None
        found = log_variance_regression(replicated())
        errors = np.sqrt(np.diag(found.covariance))
        meets(expected["log_variance_coef"], found.estimates)
        meets(expected["log_variance_se_known"], errors)
        meets(expected["log_variance_se_from_residual"], errors * np.sqrt(-found.fit / 4))

    def test_gamma(self):
        expected, cells = published("dispersion_replicated").expected, replicated()
        found = gamma_variances(cells)
        meets(expected["gamma_coef"], found.estimates)
        meets(expected["gamma_se_known"], np.sqrt(np.diag(found.covariance)))
        tests = [gamma_test(cells, np.array([place])).statistic for place in (1, 2, 3)]
        meets(expected["gamma_lr_chisq"], tests)

    def test_equal_variances(self):
        expected, cells = published("dispersion_replicated").expected, replicated()
        found = equal_variances(cells.variance, cells.df)
        meets(expected["bartlett_equal_variances"], [found.statistic, float(found.df), found.p])

    def test_limits_fall_by_what_is_allowed(self):
        cells = replicated()
        span = gamma_limits(cells, np.eye(4)[1], fall_allowed=3.84)
        at = np.eye(4)[1] * span.low
        others = Cells(X=np.delete(cells.X, 1, axis=1), variance=cells.variance, df=cells.df)
        held = gamma_variances(others, offset=cells.X @ at)
        assert gamma_variances(cells).fit - held.fit == pytest.approx(3.84, abs=1e-5)


@pytest.mark.reference("R nlme 3.1.162, gls with varIdent")
def test_unreplicated():
    check = published("dispersion_unreplicated")
    table, expected = check.tables["data"], check.expected
    X = np.column_stack([np.ones(16), table[["A", "B", "C", "D"]].to_numpy(float)])
    found = two_scatters(X, table["y"].to_numpy(float), table["C"].to_numpy(float))
    meets(expected["log_variance_effect_half"], [found.slope])
    meets(expected["sd"], found.sigma * np.exp(np.array([-1, 1]) * found.slope / 2))
    meets(expected["coef"], found.estimates)
    meets(expected["se"], np.sqrt(np.diag(found.covariance)))
    meets(expected["lr_chisq_equal_sd"], [found.test.statistic])
    meets(
        expected["reml_log_likelihood_nlme_convention"],
        [found.log_likelihood, found.log_likelihood_even],
    )


def test_gamma_test_keeps_its_rate():
    rng = np.random.default_rng(5)
    x = np.repeat([-1.0, 1.0], 4)
    X = np.column_stack([np.ones(8), x])
    below = []
    for _ in range(400):
        df = np.full(8, 2.0)
        cells = Cells(X=X, variance=rng.chisquare(2, 8) / 2, df=df)
        below.append(gamma_test(cells, np.array([1])).p < 0.05)
    assert 0.02 <= np.mean(below) <= 0.09
