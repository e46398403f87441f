"""Waits: a plain length of time is understood, everything else stays text."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbench.define.waits import LONGEST, waiting_time


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        ("72 h", 72),
        ("72h", 72),
        ("30 min", 0.5),
        ("3 d", 72),
        ("3 days", 72),
        ("1 week", 168),
        ("90 seconds", 0.025),
        ("1,5 h", 1.5),
        ("1.5 hours", 1.5),
        ("1 h 30 min", 1.5),
        ("1 d 12 h", 36),
        ("  after 72 h ", 72),
        ("After 3 D", 72),
    ],
)
def test_a_length_of_time(text, hours):
    wait = waiting_time(text)
    assert wait.hours == pytest.approx(hours, rel=1e-12)
    assert wait.words in text


@pytest.mark.parametrize(
    "text",
    [
        "",
        "after",
        "h",
        "72",
        "0 h",
        "-3 h",
        "3 m",  # minutes, months or metres
        "24 h after cure",
        "after 48 h of cure",
        "24-48 h",
        "24 to 48 h",
        "overnight",
        "=1 h",
        "1 h; drop table",
        "999999 weeks",
        "1e3 h",
        "nan h",
        "۳ h ٣",
    ],
)
def test_anything_else_stays_text(text):
    assert waiting_time(text) is None


@pytest.mark.property
@given(st.text())
def test_no_text_breaks_it(text):
    wait = waiting_time(text)
    assert wait is None or 0 < wait.hours <= LONGEST
