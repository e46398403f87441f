"""Cells to numbers: what has one reading is read, what has two is refused by its cell."""

import contextlib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.errors import FileError
from workbench.files.numbers import Decimal, decimal_mark, read_number

PLACE = "pulls.csv, row 7, column 'force'"


def value(text, decimal=Decimal.UNKNOWN):
    return read_number(text, decimal=decimal, place=PLACE).value


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("1,5", 1.5),
        ("−3.2", -3.2),
        ("1,234,567", 1234567),
        ("1.234,5", 1234.5),
        ("1 234,5", 1234.5),
        ("1\u202f234", 1234),
        ("1'234", 1234),
        ("0,123", 0.123),
        ("1.234", 1.234),
        ("1e-3", 0.001),
        (".5", 0.5),
    ],
)
def test_one_reading(text, number):
    assert value(text) == pytest.approx(number, rel=1e-15)


def test_two_readings_are_refused_with_both():
    with pytest.raises(FileError, match=r"row 7, column 'force'.*1\.234 and 1234"):
        value("1,234")
    for text, decimal in (("1.234", Decimal.COMMA), ("1,234", Decimal.POINT)):
        with pytest.raises(FileError, match="two readings"):
            value(text, decimal)


def test_the_column_can_decide():
    assert decimal_mark(["1,234", "2,950.5", "3.5"]) is Decimal.GROUPED
    assert value("1,234", Decimal.GROUPED) == 1234
    assert decimal_mark(["1,234", "9,5"]) is Decimal.COMMA
    assert value("1,234", Decimal.COMMA) == 1.234
    assert decimal_mark(["1,5", "1.5"]) is Decimal.UNKNOWN


@pytest.mark.parametrize(("text", "mark"), [(">250", 1), ("< 0,02 mm", -1), ("≥3", 1), ("3", 0)])
def test_cut_off_marks(text, mark):
    assert read_number(text, decimal=Decimal.UNKNOWN, place=PLACE).mark == mark


@pytest.mark.parametrize(("text", "unit"), [("69,5 N", "N"), ("45%", "%"), ("3 mm/min", "mm/min")])
def test_units_in_cells(text, unit):
    assert read_number(text, decimal=Decimal.UNKNOWN, place=PLACE).unit == unit


@pytest.mark.parametrize("text", ["", "  ", "n/a", "N/A", "–", "#N/A"])
def test_not_measured_is_never_a_number(text):
    assert read_number(text, decimal=Decimal.UNKNOWN, place=PLACE) is None


@pytest.mark.parametrize(
    "text",
    ["NaN", "inf", "-Infinity", "1e999", "1_000", "12.03.2024", "2024-01-02", "3-4", "2 3", "abc"],
)
def test_what_is_no_finite_number_is_refused(text):
    with pytest.raises(FileError, match="is not a number"):
        value(text)


def test_an_error_of_a_formula_is_named():
    with pytest.raises(FileError, match="error of a spreadsheet formula"):
        value("#DIV/0!")


@pytest.mark.property
@settings(max_examples=50, deadline=None)
@given(st.floats(allow_nan=False, allow_infinity=False, width=64))
def test_what_python_writes_is_read_back(number):
    assert value(repr(number)) == number


@pytest.mark.property
@settings(max_examples=50, deadline=None)
@given(st.integers(0, 10**9), st.integers(0, 99))
def test_thousands_marks_with_decimals(whole, cents):
    assert value(f"{whole:,}.{cents:02d}") == pytest.approx(whole + cents / 100)
    swapped = f"{whole:,}".replace(",", ".") + f",{cents:02d}"
    assert value(swapped) == pytest.approx(whole + cents / 100)


@pytest.mark.property
@settings(max_examples=50, deadline=None)
@given(st.text(max_size=12))
def test_any_text_is_a_number_nothing_or_refused(text):
    with contextlib.suppress(FileError):
        found = read_number(text, decimal=Decimal.UNKNOWN, place=PLACE)
        assert found is None or abs(found.value) < float("inf")
