"""Constraints: which settings they allow, edges included."""

import numpy as np
import pytest

from workbench.define import (
    Categorical,
    Continuous,
    Forbidden,
    LinearLimit,
    allowed,
    from_coded,
    linear_limit,
    settings,
)
from workbench.errors import DefinitionError

TIP = Continuous(name="tip", low=300, high=400, unit="°C", setting_sd=5)
DWELL = Continuous(name="dwell", low=1, high=3, unit="s", setting_sd=0.1)
SHAPE = Categorical(name="shape", levels=("chisel", "cone"))
ALL = (TIP, DWELL, SHAPE)


def rows(*points):
    return settings(ALL, [dict(zip(("tip", "dwell", "shape"), p, strict=True)) for p in points])


def test_an_inequality_includes_its_edge():
    limit = linear_limit({"tip": 0.1, "dwell": 10.0}, at_most=60, reason="burns")
    found = limit.allows(rows((300, 3, "cone"), (310, 2.9, "cone"), (300.01, 3, "cone")))
    np.testing.assert_array_equal(found, [True, True, False])


def test_the_edge_scales_with_the_numbers():
    small = Continuous(name="drop", low=1e-12, high=3e-12, unit="m³", setting_sd=0)
    limit = linear_limit({"drop": 1.0}, at_most=2e-12, reason="floods")
    found = limit.allows(settings((small,), [{"drop": 2e-12}, {"drop": 2.1e-12}]))
    np.testing.assert_array_equal(found, [True, False])


def test_a_forbidden_combination_needs_all_of_it():
    hot = Forbidden(where=(("tip", 380, 400),), levels=(("shape", "cone"),), reason="burns")
    found = hot.allows(
        rows((390, 1, "cone"), (380, 1, "cone"), (379, 1, "cone"), (390, 1, "chisel"))
    )
    np.testing.assert_array_equal(found, [False, False, True, True])


def test_a_forbidden_edge_stays_forbidden_when_rounded():
    third = Continuous(name="tip", low=0.1, high=0.7, unit="mm", setting_sd=0)
    edge = Forbidden(where=(("tip", 0.3, 0.7),), reason="unsafe")
    near = from_coded((third,), third.coded(np.array([[0.3]])) * (1 + 1e-15))
    assert not edge.allows(near)[0]


def test_every_constraint_must_allow():
    hot = Forbidden(where=(("tip", 390, 400),), reason="burns")
    long = linear_limit({"dwell": 1}, at_most=2, reason="burns")
    found = allowed((hot, long), rows((395, 1, "cone"), (350, 2.5, "cone"), (350, 1, "cone")))
    np.testing.assert_array_equal(found, [False, False, True])
    assert allowed((), rows((395, 1, "cone"))).all()


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: linear_limit({}, at_most=1, reason="x"), "names no factor"),
        (lambda: linear_limit({"tip": np.nan}, at_most=1, reason="x"), "holds the number nan"),
        (lambda: linear_limit({"tip": 1}, at_most=np.inf, reason="x"), "holds the number inf"),
        (lambda: linear_limit({"tip": 1}, at_most=1, reason=" "), "has no reason"),
        (
            lambda: LinearLimit(coefficients=(("a", 1), ("a", 2)), at_most=1, reason="x"),
            "names 'a' twice",
        ),
        (lambda: Forbidden(reason="x"), "combination names no factor"),
        (lambda: Forbidden(levels=(("shape", "cone"),)), "A constraint has no reason"),
        (lambda: Forbidden(where=(("tip", 2, 1),), reason="x"), "forbidden from 2 to 1"),
        (lambda: Forbidden(where=(("tip", 2, np.inf),), reason="x"), "needs two numbers"),
    ],
)
def test_constraints_that_say_nothing(make, said):
    with pytest.raises(DefinitionError, match=said):
        make()


def test_a_number_has_no_level():
    with pytest.raises(DefinitionError, match="'tip' has no levels"):
        Forbidden(levels=(("tip", "hot"),), reason="x").allows(rows((300, 1, "cone")))
