"""Factors: coding there and back, and what no factor can be."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.define import Categorical, Continuous, Held, Role, Spread, Stepped, is_numeric
from workbench.errors import DefinitionError


def continuous(**changes):
    keys = {"name": "dwell", "low": 1.0, "high": 3.0, "unit": "s", "setting_sd": 0.1}
    return Continuous(**(keys | changes))


@pytest.mark.property
@settings(max_examples=50, deadline=None)
@given(
    low=st.floats(-1e3, 1e3),
    span=st.floats(1e-3, 1e3),
    coded=st.lists(st.floats(-2, 2), min_size=1, max_size=5),
)
def test_coding_there_and_back(low, span, coded):
    factor = continuous(low=low, high=low + span)
    there = factor.coded(factor.natural(np.array(coded)))
    # A range a millionth of its own size leaves ten digits of a double.
    np.testing.assert_allclose(there, coded, atol=1e-9)


def test_ends_are_coded_to_one():
    stepped = Stepped(name="tip", steps=(10, 15, 40), unit="mm", setting_sd=0)
    np.testing.assert_array_equal(stepped.coded(np.array([10, 25, 40])), [-1, 0, 1])
    np.testing.assert_array_equal(continuous().coded(np.array([1, 2, 3])), [-1, 0, 1])
    assert (stepped.low, stepped.high) == (10, 40)


def test_units_are_kept_in_their_usual_spelling():
    assert continuous(unit="degC").unit == "°C"
    assert Held(name="bore", value="0.8", unit="um").unit == "µm"
    assert Stepped(name="drop", steps=(1, 2), unit="uL", setting_sd=0).unit == "µL"


def test_levels_have_an_index():
    surface = Categorical(name="surface", levels=("none", "wiped"))
    assert surface.index("wiped") == 1
    assert not is_numeric(surface)
    with pytest.raises(DefinitionError, match="Use one of: none, wiped"):
        surface.index("misted")


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"low": 3.0}, "Exchange the two"),
        ({"low": 5.0}, "low 5 to high 3"),
        ({"low": float("nan")}, "low end of 'dwell' is nan"),
        ({"high": float("inf")}, "high end of 'dwell' is inf"),
        ({"low": -1.5e308, "high": 1.5e308}, "so narrow or so wide"),
        ({"low": 0.0, "high": 5e-324}, "so narrow or so wide"),
        ({"name": " dwell"}, "blanks at its ends"),
        ({"name": ""}, "is empty"),
        ({"setting_sd": -0.1}, "cannot be below zero"),
        ({"setting_sd": float("nan")}, "setting_sd of 'dwell' is nan"),
        ({"spread": Spread(shape="normal", centre=2, width=1)}, "role is control"),
    ],
)
def test_what_no_continuous_factor_can_be(changes, said):
    with pytest.raises(DefinitionError, match=said):
        continuous(**changes)


@pytest.mark.parametrize(
    ("steps", "said"),
    [
        ((1.0,), "has 1 level"),
        ((2.0, 1.0), "Sort them"),
        ((1.0, 1.0), "each once"),
        ((1.0, float("nan")), "step of 'tip' is nan"),
    ],
)
def test_what_no_stepped_factor_can_be(steps, said):
    with pytest.raises(DefinitionError, match=said):
        Stepped(name="tip", steps=steps, unit="mm", setting_sd=0)


@pytest.mark.parametrize(
    ("levels", "said"),
    [
        ((), "has 0 levels"),
        (("a",), "has 1 level"),
        (("a", "a"), "twice"),
        (("a", " "), "empty name"),
    ],
)
def test_what_no_category_can_be(levels, said):
    with pytest.raises(DefinitionError, match=said):
        Categorical(name="surface", levels=levels)


def test_a_held_category_needs_one_level_only():
    assert Categorical(name="lot", levels=("A7",), role=Role.HELD).levels == ("A7",)


@pytest.mark.parametrize(
    ("shape", "width", "said"),
    [
        ("odd", 1, "'odd' is not known"),
        ("normal", 0, "is a held one"),
        ("uniform", np.nan, "is nan"),
    ],
)
def test_what_no_spread_can_be(shape, width, said):
    with pytest.raises(DefinitionError, match=said):
        Spread(shape=shape, centre=0, width=width)
