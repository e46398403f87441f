"""Which settings make the scatter wider, at the level of the fit."""

from itertools import product

import numpy as np
import pandas as pd
import pytest

from workbench.define.algebra import parse_terms
from workbench.define.factors import Continuous
from workbench.define.outcomes import Measured
from workbench.errors import Unavailable
from workbench.files.evidence import published
from workbench.fit.run_means import Wanted
from workbench.fit.scatter import scatter_effects


def told(record, text):
    terms = parse_terms(text, record.trial.factors)
    names = tuple(dict.fromkeys(n for one in terms.terms for n in one.factors))
    return scatter_effects(record, record.trial.outcomes[0], terms, wanted=Wanted(factors=names))


def record_from(record_of, table, names, values=None, rows=None):
    factors = [Continuous(name=n, low=-1, high=1, unit="", setting_sd=0) for n in names]
    outcome = Measured(name="y", unit="N")
    return record_of(table, factors=factors, outcome=outcome, values=values, rows=rows)


@pytest.mark.reference("R 4.2.2 glm (Gamma, log)")
def test_repeats(record_of):
    check = published("dispersion_replicated")
    found = told(record_from(record_of, check.tables["data"], "ABC"), "A, B, C")
    for effect, test, name in zip(found.effects, found.tests, "ABC", strict=True):
        coefficient = check.expected["gamma_coef"][name]
        # log variance per coded unit: from −1 to 1 the sd changes by e^coefficient
        assert np.log(effect.value) == pytest.approx(coefficient.value, abs=1e-6)
        fall = check.expected["gamma_lr_chisq"][name]
        assert abs(test.sum_of_squares - fall.value) <= fall.tol
        assert effect.estimate.low < effect.value < effect.estimate.high
    assert found.is_clear
    assert not found.is_hint
    np.testing.assert_allclose(found.columns(found_settings(record_of, check)).mean(), 0, atol=0.2)


def found_settings(record_of, check):
    return record_from(record_of, check.tables["data"], "ABC").as_run


@pytest.mark.reference("R nlme 3.1.162, gls")
def test_without_repeats_it_is_a_hint(record_of):
    check = published("dispersion_unreplicated")
    found = told(record_from(record_of, check.tables["data"], "ABCD"), "A, B, C, D")
    effect = found.effects[2]
    known = check.expected["log_variance_effect_half"]["C"].value
    assert np.log(effect.value) == pytest.approx(known, abs=1e-4)
    assert found.is_hint
    assert not found.is_clear
    assert "hint at most" in found.notes[0]
    assert isinstance(effect.estimate, Unavailable)


def test_parts_within_runs_tell_the_scatter_of_parts(record_of):
    rng = np.random.default_rng(1)
    x = np.array(list(product((-1.0, 1.0), repeat=3)))
    rows = np.repeat(np.arange(8), 4)
    values = 10 + np.exp(0.9 * x[rows, 0]) * rng.standard_normal(32)
    table = pd.DataFrame(x, columns=["a", "b", "c"])
    found = told(record_from(record_of, table, "abc", values, rows), "a, b, c")
    assert found.level == "part"
    assert found.effects[0].estimate.low < np.exp(1.8) < found.effects[0].estimate.high
    assert found.tests[0].p < 0.01


def test_slopes_add_up_to_the_effect(record_of):
    check = published("dispersion_replicated")
    record = record_from(record_of, check.tables["data"], "ABC")
    found = told(record, "A, B, C")
    log_variance = found.columns(record.as_run) @ found.slopes
    high = record.as_run.column("A") > 0
    same = (record.as_run.column("B") > 0) & (record.as_run.column("C") > 0)
    ratio = np.exp((log_variance[high & same][0] - log_variance[~high & same][0]) / 2)
    assert ratio == pytest.approx(found.effects[0].value, rel=1e-9)


class TestNoAnswer:
    def test_nothing_changed(self, record_of):
        table = pd.DataFrame({"a": np.zeros(6), "y": np.arange(6.0)})
        found = told(record_from(record_of, table, "a"), "a")
        assert isinstance(found, Unavailable)

    def test_saturated_without_repeats(self, record_of):
        x = np.array(list(product((-1.0, 1.0), repeat=2)))
        table = pd.DataFrame(x, columns=["a", "b"]).assign(y=[1.0, 2, 4, 3])
        found = told(record_from(record_of, table, "ab"), "a, b")
        assert isinstance(found, Unavailable)
        assert "repeat runs" in found.reason

    def test_repeats_that_read_the_same(self, record_of):
        x = np.repeat(np.array(list(product((-1.0, 1.0), repeat=2))), 2, axis=0)
        table = pd.DataFrame(x, columns=["a", "b"]).assign(y=np.repeat([1.0, 2, 4, 3], 2))
        found = told(record_from(record_of, table, "ab"), "a, b")
        assert isinstance(found, Unavailable) or found.is_hint
