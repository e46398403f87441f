"""Numbers as they are written."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.define.factors import Categorical, Continuous, Stepped
from workbench.define.outcomes import Measured, at_least, at_most, between
from workbench.show import numbers
from workbench.show.numbers import NBSP

sizes = st.floats(-1e6, 1e6, allow_nan=False)


@pytest.mark.property
@given(value=sizes, half=st.floats(1e-4, 1e4))
@settings(max_examples=50, deadline=None)
def test_estimate_and_interval_share_their_decimals_and_use_no_hyphen(value, half):
    found = numbers.with_interval(value, value - half, value + half)
    decimals = {len(one.partition(".")[2]) for one in (found.value, found.low, found.high)}
    assert len(decimals) == 1
    assert "-" not in found.value + found.interval
    assert math.isclose(
        float(found.low.replace("−", "-")), value - half, abs_tol=0.051 * 2 * half + 1e-6
    )


@pytest.mark.property
@given(st.floats(0, 1))
@settings(max_examples=50, deadline=None)
def test_a_chance_is_never_rounded_up_nor_written_as_certain(share):
    shown = numbers.chance(share)
    number = float(shown.replace(NBSP, "").strip("<>%"))
    assert shown.startswith((">", "<")) or number <= share * 100 + 1e-6
    assert number < 100
    counted, of = numbers.in_hundred(share).split(" of ")
    assert int(counted) / int(of) <= share + 1e-6
    assert int(counted) < int(of)


def test_ratios_are_times_and_divided_by_to_the_same_decimal():
    found = numbers.with_interval(1 / 4.7, 1 / 6.0, 1 / 3.6, is_ratio=True)
    assert (found.value, found.interval) == ("÷4.7", "÷6.0 to ÷3.6")
    narrow = numbers.with_interval(1.09, 1 / 1.04, 1.21, is_ratio=True)
    assert (narrow.value, narrow.interval) == ("×1.09", "÷1.04 to ×1.21")
    assert numbers.ratio(123.4) == "×120"


def test_p_values():
    shown = [numbers.p_value(p) for p in (0.0009999, 0.001, 0.016, 0.0994, 0.1, 0.85)]
    assert shown == ["below 0.001", "0.001", "0.016", "0.099", "0.10", "0.85"]


def test_negative_zero_has_no_sign():
    assert numbers.fixed(-0.0004, 2) == "0.00"
    assert numbers.signed(0.0, 1) == "0.0"


def test_a_setting_between_whole_ends_is_not_rounded_to_one():
    dwell = Continuous(name="dwell", low=1, high=4, unit="s", setting_sd=0)
    assert numbers.setting(dwell, 2.5) == "2.5"
    assert numbers.setting(dwell, 2.0) == "2"


def test_settings_keep_the_decimals_of_their_factor():
    height = Continuous(name="height", low=0.6, high=1.4, unit="mm", setting_sd=0)
    assert numbers.setting(height, 1.0) == "1.0"
    assert numbers.tried(height) == "0.6 to 1.4"
    assert numbers.setting_decimals(height, [0.75]) == 2
    dial = Stepped(name="dial", steps=(1, 2.5, 4), unit="", setting_sd=0)
    assert numbers.tried(dial) == "1.0, 2.5, 4.0"
    wipe = Categorical(name="wipe", levels=("none", "once"))
    assert numbers.setting(wipe, 1.0) == "once"
    assert numbers.setting(height, math.nan) == "not recorded"


def test_requirements_and_what_is_worth_finding():
    assert numbers.requirement(at_most(0.5)) == "at most 0.5"
    assert numbers.requirement(at_least(22)) == "at least 22"
    assert numbers.requirement(between(0.3, 1.15)) == "0.30 to 1.15"
    leak = Measured(name="leak", unit="mm³/s", scale="log", worth_finding=1.5)
    assert numbers.worth_finding(leak) == "×/÷1.5"
    assert numbers.worth_finding(Measured(name="force", unit="N", worth_finding=3)) == "3"
