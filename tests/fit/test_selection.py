"""What the data ask for, beside the model that was asked for."""

import numpy as np
import pytest

from workbench.define.factors import Continuous
from workbench.errors import Unavailable
from workbench.files.evidence import published
from workbench.fit import outcome, selection

CHECK = published("selection_aicc_hierarchy")
FACTORS = tuple(
    Continuous(name=one, low=-1, high=1, unit="", setting_sd=0)
    for one in ("A", "B", "C", "D", "E")
)


def fitted(record_of, values=None, terms="interactions"):
    record = record_of(CHECK.tables["data"], factors=FACTORS, outcome="y", values=values)
    return outcome(record, "y", terms=terms)


@pytest.mark.reference(library="R 4.2.2, lm and AIC for each of 372 models")
def test_the_smallest_model_within_two(record_of):
    found = selection(fitted(record_of), seed=1)
    assert [str(one) for one in found.chosen] == ["A", "C", "A × C"]
    assert found.n_models == 372
    assert found.is_whole
    assert found.is_signal
    support = {str(term): value for term, value in found.support}
    wanted = CHECK.expected["akaike_weight_inclusion"]
    assert support["A × C"] == pytest.approx(wanted["A:C"].value, abs=wanted["A:C"].tol)
    assert "Signal beyond noise: yes" in found.words()


def test_same_seed_same_answer(record_of):
    fit = fitted(record_of)
    assert selection(fit, seed=3) == selection(fit, seed=3)


def test_scatter_alone_is_seldom_a_signal(record_of):
    rng = np.random.default_rng(12)
    alarms = [
        selection(fitted(record_of, values=rng.standard_normal(16)), seed=1).is_signal
        for _ in range(60)
    ]
    # 5 % of 60 is 3; more than 8 has a chance of 0.4 %.
    assert sum(alarms) <= 8


def test_nothing_to_select_from(record_of):
    found = selection(fitted(record_of, values=[5.0] * 16), seed=1)
    assert isinstance(found, Unavailable)
    assert "same mean" in found.reason


def test_aliased_terms_are_not_ranked(record_of):
    third = "A, B, C, D, A*B, A*C, A*D, B*C, B*D, C*D, E, A*B*C*D"
    found = selection(fitted(record_of, terms=third), seed=1)
    assert isinstance(found, Unavailable)
    assert "cannot be told apart" in found.reason
