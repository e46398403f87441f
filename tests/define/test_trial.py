"""The trial: what holds between its parts."""

import math

import pytest

from workbench.define import (
    Budget,
    Categorical,
    Continuous,
    Forbidden,
    Held,
    Measured,
    Role,
    Trial,
    linear_limit,
)
from workbench.errors import DefinitionError

DWELL = Continuous(name="dwell", low=1, high=3, unit="s", setting_sd=0)
SURFACE = Categorical(name="surface", levels=("none", "wiped"))
HUMIDITY = Continuous(
    name="room humidity", low=30, high=60, unit="%RH", setting_sd=None, role=Role.OBSERVED
)
PULL = Measured(name="pull", unit="N")


def trial(**changes):
    keys = {"title": "t", "question": "", "factors": (DWELL, SURFACE), "outcomes": (PULL,)}
    return Trial(**(keys | changes))


def named(name):
    return Measured(name=name, unit="N")


def test_parts_are_found_by_name():
    whole = trial(factors=(DWELL, HUMIDITY))
    assert whole.factor("dwell") is DWELL
    assert whole.outcome("pull") is PULL
    assert whole.planned_factors == (DWELL,)
    with pytest.raises(DefinitionError, match=r"no factor 'speed'.*dwell, room humidity"):
        whole.factor("speed")
    with pytest.raises(DefinitionError, match="There is no outcome 'peel'"):
        whole.outcome("peel")


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"factors": ()}, "has no factors"),
        ({"outcomes": ()}, "has no outcomes"),
        ({"outcomes": (named("dwell"),)}, "'dwell' stands twice"),
        ({"held": (Held(name="pull", value="1"),)}, "'pull' stands twice"),
        ({"outcomes": (named("h\u00f6he"), named("ho\u0308he"))}, "stands twice"),
        ({"outcomes": (named("run"),)}, "used for a column of every run table"),
        ({"share": 99}, "The share is 99"),
        ({"share": 0.4}, r"The share is 0\.4"),
        ({"confidence": 1.0}, "The confidence is 1"),
        ({"confidence": math.nan}, "The confidence is nan"),
        ({"seed": -1}, "The seed is -1"),
        ({"model": "dwel"}, "Did you mean dwell"),
        (
            {"constraints": (linear_limit({"speed": 1}, at_most=1, reason="x"),)},
            "There is no factor 'speed'",
        ),
        (
            {"constraints": (linear_limit({"surface": 1}, at_most=1, reason="x"),)},
            "holds the levels of 'surface' against numbers",
        ),
        (
            {"constraints": (Forbidden(levels=(("dwell", "long"),), reason="x"),)},
            "'dwell', which is numeric",
        ),
        (
            {"constraints": (Forbidden(levels=(("surface", "dipped"),), reason="x"),)},
            "has no level 'dipped'",
        ),
    ],
)
def test_what_no_trial_can_be(changes, said):
    with pytest.raises(DefinitionError, match=said):
        trial(**changes)


@pytest.mark.parametrize(
    "keys",
    [{"parts": 0}, {"days": -1.0}, {"days": math.nan}, {"days": math.inf}, {"parts_per_run": 0}],
)
def test_what_no_budget_can_be(keys):
    with pytest.raises(DefinitionError, match="The budget states"):
        Budget(**keys)
