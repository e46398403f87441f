"""Units: one spelling, and exact steps between units of one kind."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.define import convert, normal_unit, unit_kind
from workbench.define.units import SCALES_BY_KIND
from workbench.errors import DefinitionError

EVERY_UNIT = [unit for units in SCALES_BY_KIND.values() for unit in units]


@pytest.mark.parametrize(
    ("written", "usual"),
    [
        ("mm3", "mm³"),
        ("mm^3", "mm³"),
        ("uL", "µL"),
        ("µl", "µL"),
        ("\u03bcL", "µL"),
        ("ml", "mL"),
        ("degC", "°C"),
        ("deg C", "°C"),
        ("° C", "°C"),
        ("℃", "°C"),
        ("% RH", "%RH"),
        ("%rh", "%RH"),
        ("mm/sec", "mm/s"),
        ("g/m2", "g/m²"),
        ("um", "µm"),
        ("N/mm2", "N/mm²"),
        ("Pa.m3/s", "Pa·m³/s"),
        ("mbar*l/s", "mbar·L/s"),
        ("Nm", "N·m"),
        ("Ohm", "Ω"),
        ("cc", "cm³"),
        ("-", "1"),
        (" min ", "min"),
    ],
)
def test_spellings(written, usual):
    assert normal_unit(written) == usual


@pytest.mark.parametrize(
    "label", ["mpa", "C", "rows", "grade points", "room3", "", "N", "MPa", "s"]
)
def test_what_is_unknown_or_has_two_readings_stays(label):
    assert normal_unit(label) == label


@pytest.mark.published("BIPM, SI brochure, 9th edition (2019); NIST SP 811 (2008), appendix B.8")
@pytest.mark.parametrize(
    ("value", "old", "new", "expected"),
    [
        (1.0, "mL", "mm³", 1000.0),
        (1500.0, "mm3", "mL", 1.5),
        (1.0, "mm³", "µL", 1.0),
        (1.5, "min", "s", 90.0),
        (1.0, "bar", "MPa", 0.1),
        (1.0, "bar", "kPa", 100.0),
        (1.0, "psi", "kPa", 6.894757293168361),
        (100.0, "°C", "°F", 212.0),
        (-40.0, "°F", "°C", -40.0),
        (25.0, "°C", "K", 298.15),
        (32.0, "°F", "K", 273.15),
        (1.0, "g", "mg", 1000.0),
        (25.4, "mm", "in", 1.0),
        (1.0, "cm", "µm", 10000.0),
        (2500.0, "N", "kN", 2.5),
        (1.0, "MPa", "N/mm²", 1.0),
        (1.0, "mbar·L/s", "Pa·m³/s", 0.1),
        (1.0, "lbf", "N", 4.4482216152605),
        (10.0, "%", "1", 0.1),
    ],
)
def test_steps_between_units(value, old, new, expected):
    assert convert(value, from_unit=old, to_unit=new) == pytest.approx(expected, rel=1e-14)


def test_a_difference_of_temperatures_has_no_zero():
    assert convert(10.0, from_unit="°C", to_unit="°F", is_difference=True) == 18.0
    assert convert(10.0, from_unit="°C", to_unit="K", is_difference=True) == 10.0


def test_arrays_keep_their_shape():
    values = np.array([[1.0, 2.0], [3.0, np.nan]])
    np.testing.assert_array_equal(convert(values, from_unit="cm", to_unit="mm"), 10 * values)


def test_the_same_label_passes_and_another_does_not():
    assert convert(3.0, from_unit="drops", to_unit="drops") == 3.0
    with pytest.raises(DefinitionError, match="'drops' is not a unit known here"):
        convert(3.0, from_unit="drops", to_unit="µL")


def test_different_kinds_are_refused_by_name():
    with pytest.raises(DefinitionError, match="one is volume, the other time"):
        convert(1.0, from_unit="mL", to_unit="s")
    with pytest.raises(DefinitionError, match="need the density"):
        convert(1.0, from_unit="mg", to_unit="µL")


def test_every_unit_is_in_its_usual_spelling_and_in_one_kind():
    assert [normal_unit(unit) for unit in EVERY_UNIT] == EVERY_UNIT
    assert len(set(EVERY_UNIT)) == len(EVERY_UNIT)
    assert unit_kind("degC") == "temperature"
    assert unit_kind("drops") is None


@pytest.mark.property
@settings(max_examples=50, deadline=None)
@given(data=st.data(), value=st.floats(-1e6, 1e6))
def test_there_and_back(data, value):
    units = data.draw(st.sampled_from([list(one) for one in SCALES_BY_KIND.values()]))
    old, new = data.draw(st.sampled_from(units)), data.draw(st.sampled_from(units))
    away = convert(value, from_unit=old, to_unit=new)
    assert convert(away, from_unit=new, to_unit=old) == pytest.approx(value, rel=1e-12, abs=1e-9)


@pytest.mark.property
@settings(max_examples=50, deadline=None)
@given(
    text=st.one_of(st.text(max_size=12), st.sampled_from(["mm 3", "uL / min", "N * m", "m2/s"]))
)
def test_a_usual_spelling_stays(text):
    assert normal_unit(normal_unit(text)) == normal_unit(text)
