"""Mixed models held against another library's estimates and small-sample tests."""

import numpy as np
import pytest

from workbench.numerics.kenward_roger import kenward_roger_each, kenward_roger_joint
from workbench.numerics.satterthwaite import satterthwaite_each, satterthwaite_joint

NAMES = [
    "mixed_oats",
    "mixed_crossed",
    "mixed_strip_plot",
    "mixed_splitplot_8wp",
    "mixed_splitplot_lost_runs",
    "mixed_few_wholeplots_4",
    "mixed_few_wholeplots_5",
]


@pytest.fixture(scope="module", params=NAMES)
def case(request, mixed):
    return mixed.Case(request.param)


@pytest.mark.reference(library="lme4, pbkrtest and lmerTest on R 4.2.2")
def test_variances_and_likelihood(case):
    expected = case.check.expected
    found = case.variances()
    assert set(found) == set(expected["reml_variance"])
    for name, one in expected["reml_variance"].items():
        assert found[name] == pytest.approx(one.value, rel=1e-6), name
    (likelihood,) = expected["reml_log_likelihood"].values()
    assert case.log_likelihood() == pytest.approx(likelihood.value, abs=likelihood.tol)


@pytest.mark.reference(library="lme4, pbkrtest and lmerTest on R 4.2.2")
def test_coefficients_and_their_tests(case, mixed):
    digits, values = mixed.digits, mixed.values
    expected, whole = case.check.expected, np.eye(case.X.shape[1])
    roger = kenward_roger_each(case.solution, whole)
    assert digits(roger.estimates, values(expected["coef"])) > 7
    plain = np.sqrt(np.diag(case.solution.covariance))
    assert digits(plain, values(expected["se_plain"])) > 6
    assert digits(roger.std_errors, values(expected["se_kenward_roger"])) > 7
    assert digits(roger.df, values(expected["df_kenward_roger"])) > 8
    np.testing.assert_allclose(roger.p, values(expected["p_kenward_roger"]), rtol=1e-5, atol=1e-9)
    other = satterthwaite_each(case.solution, whole)
    assert digits(other.df, values(expected["df_satterthwaite"])) > 6


@pytest.mark.reference(library="pbkrtest and lmerTest on R 4.2.2")
@pytest.mark.parametrize(
    ("group", "joint"),
    [
        ("term_test_kenward_roger", kenward_roger_joint),
        ("term_test_satterthwaite", satterthwaite_joint),
    ],
)
def test_terms(case, mixed, group, joint):
    expected = case.check.expected[group]
    for term, rows in case.rows.items():
        if f"{term}|F" not in expected:
            continue
        found = joint(case.solution, rows)
        assert found.df == len(rows)
        assert mixed.digits(found.statistic, expected[f"{term}|F"].value) > 6, term
        assert mixed.digits(found.error_df, expected[f"{term}|ddf"].value) > 6, term
        assert found.p == pytest.approx(expected[f"{term}|p"].value, rel=1e-5, abs=1e-9), term
