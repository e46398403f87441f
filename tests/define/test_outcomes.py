"""Outcomes and requirements that cannot be."""

import math

import pytest

from workbench.define import (
    Counted,
    Graded,
    Measured,
    PassFail,
    Requirement,
    at_least,
    at_most,
    between,
    target,
)
from workbench.errors import DefinitionError


def test_requirements_in_words():
    assert at_least(20).words() == "at least 20"
    assert at_most(0.5).words() == "at most 0.5"
    assert between(1, 2).words() == "1 to 2"
    assert target(5, tolerance=0.5) == Requirement(low=4.5, high=5.5, target=5)


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ({}, "neither a low nor a high"),
        ({"low": 2, "high": 1}, "No part can meet it"),
        ({"low": 1, "high": 1}, "No part can meet it"),
        ({"low": math.nan}, "low end of a requirement is nan"),
        ({"high": math.inf}, "high end of a requirement is inf"),
        ({"high": 1, "target": 2}, "would be scrap"),
    ],
)
def test_impossible_requirements(keys, said):
    with pytest.raises(DefinitionError, match=said):
        Requirement(**keys)


@pytest.mark.parametrize("tolerance", [0, -1, math.nan])
def test_a_tolerance_is_above_zero(tolerance):
    with pytest.raises(DefinitionError, match="tolerance on the target 5"):
        target(5, tolerance=tolerance)


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ({"name": " "}, "is empty"),
        ({"scale": "logit"}, "Use one of: as read, log"),
        ({"expected_sd": 0}, "expected_sd of 'leak' is 0"),
        ({"expected_sd": math.nan}, "expected_sd of 'leak' is nan"),
        ({"scale": "log", "expected_sd": 1.0}, "ratio above 1"),
        ({"scale": "log", "requirement": at_most(-1)}, "names -1, on the log scale"),
        ({"scale": "inverse", "requirement": at_least(0)}, "names 0, on the inverse scale"),
        ({"scale": "square root", "requirement": at_least(-1)}, "names -1"),
        ({"gauge_low": 2, "gauge_high": 1}, "reads nothing"),
        ({"gauge_low": math.nan}, "gauge_low of 'leak' is nan"),
        ({"resolution": -1}, "smallest step"),
        ({"gauge_low": 5, "requirement": at_most(3)}, "No part could be shown to meet it"),
        ({"gauge_high": 5, "requirement": at_least(7)}, "No part could be shown to meet it"),
    ],
)
def test_what_no_measured_outcome_can_be(keys, said):
    with pytest.raises(DefinitionError, match=said):
        Measured(**({"name": "leak", "unit": "N"} | keys))


def test_what_a_measured_outcome_can_be():
    assert Measured(name="x", unit="mm3").unit == "mm³"
    assert Measured(name="x", unit="N", scale="square root", requirement=at_least(0)).requirement
    assert Measured(name="x", unit="N", gauge_high=5, requirement=at_least(5)).gauge_high == 5


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: PassFail(name="dry", passes="x", fails="x"), "both written 'x'"),
        (lambda: PassFail(name="dry", passes=" "), "An empty word"),
        (lambda: Graded(name="haze", grades=("a",)), "two or more different grades"),
        (lambda: Graded(name="haze", grades=("a", "")), "empty name"),
        (lambda: Graded(name="haze", grades=("a", "b"), requirement=at_most(2)), "grade number 2"),
        (
            lambda: Graded(name="haze", grades=("a", "b"), requirement=at_most(0.5)),
            r"grade number 0\.5",
        ),
        (lambda: Counted(name="skips", unit="1", out_of=0), "out_of of 'skips' is 0"),
        (
            lambda: Counted(name="skips", unit="1", out_of=4, requirement=at_least(5)),
            "only read from 0 to 4",
        ),
        (lambda: Counted(name="skips", unit="1", requirement=at_most(-1)), "No part could"),
    ],
)
def test_what_no_other_outcome_can_be(make, said):
    with pytest.raises(DefinitionError, match=said):
        make()
