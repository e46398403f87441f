"""Cells: decimal and thousands marks, signs, units, limits, percent, dates, times."""

import pytest


def one(*cells, heading="force"):
    rows = "".join(f"{i};{cell}\n" for i, cell in enumerate(cells, 1))
    return f"run;{heading}\n{rows}"


def column(values, heading="force"):
    return {"run": list(range(1, len(values) + 1)), heading: values}


READ = {
    "decimal comma, points part thousands": (
        one("1.234,5", "2.000", "7,25"),
        [1234.5, 2000, 7.25],
        ["decimal comma", "point parts thousands"],
        [],
    ),
    "commas part thousands": (
        one("1,234.5", "2,000", "7.25"),
        [1234.5, 2000, 7.25],
        [],
        ["comma parts thousands"],
    ),
    "blanks part thousands": (
        one("1 234", "12\u00a0500", "1\u2009234\u202f567"),
        [1234, 12500, 1234567],
        ["blank parts thousands"],
        [],
    ),
    "apostrophes part thousands": (
        one("1'234.5", "12’500.0"),
        [1234.5, 12500],
        ["apostrophe parts thousands"],
        [],
    ),
    "two hands": (one("1,5", "2.5"), [1.5, 2.5], [], ["1,5 beside others such as 2.5"]),
    "three digits behind each point": (
        one("1.234", "2.500"),
        [1.234, 2.5],
        [],
        ["1.234 -> decimal point"],
    ),
    "true minus, en dash": (one("−1.5", "–2.5", "-3"), [-1.5, -2.5, -3], [], []),
    "powers of ten": (one("1.5e3", "2E-2", "3"), [1500, 0.02, 3], [], []),
    "beyond the gauge": (one(">250", "< 0.5", "12"), [250, 0.5, 12], [], []),
    "signs for nothing": (
        one("12", "n/a", "-", ""),
        [12, None, None, None],
        ["row 3, 4, 5", "not measured (never zero)"],
        [],
    ),
    "units in every cell": (
        one("69,5 N", "0,07 kN"),
        [69.5, 70],
        ["converted to N", "decimal comma"],
        [],
    ),
    "a unit in some cells": (one("69.5 N", "70"), [69.5, 70], [], ["in 1 of 2 cells"]),
    "percent in every cell": (one("45 %", "7,5%"), [45, 7.5], ["the unit % in 2 of 2"], []),
}

ASKED = {
    "one thousand or one": (one("1,234", "2,500"), "two readings: 1.234 and 1234", "--decimal"),
    "a point beside decimal commas": (
        "gap;force\n0,5;1.234\n0,7;2.500\n",
        "two readings: 1.234 and 1234",
        "--decimal comma",
    ),
    "a footnote mark": (one("12.3*", "11"), "row 2, column 'force': '12.3*' is not", "number"),
    "a raised footnote mark": (one("12.3¹", "11"), "'12.3¹' is not a number", "number"),
    "a letter as footnote": (one("12.3 b", "11"), "'12.3 b' is not a number", "number"),
    "a unit of another kind": (one("12 N", "11 mm"), "one is length, the other force", "unit"),
    "shares beside percent": (one("45 %", "0.45"), "'0.45' has no unit", "unit"),
    "bare beside two units": (one("1 kN", "500 N", "7"), "'7' has no unit", "unit"),
    "a formula that failed": (one("12", "#DIV/0!"), "row 3, column 'force'", "Mend the formula"),
    "a number turned into a date": (one("2025-04-03", "5"), "such as 3.4 into this date", ""),
    "words": (one("12", "broke"), "'broke' is not a number", "leave the cell empty"),
}


@pytest.mark.parametrize("trick", READ)
def test_read(reads, trick):
    data, values, says, unsure = READ[trick]
    reads(data, column(values), says, unsure)


@pytest.mark.parametrize("trick", ASKED)
def test_asked(asks, trick):
    data, words, next_step = ASKED[trick]
    asks(data, words, next_step=next_step)


@pytest.mark.parametrize(
    ("options", "values"),
    [
        ({"decimal": "comma"}, [1.234, 2.5]),
        ({"decimal": "point"}, [1234, 2500]),
        ({"thousands": "comma"}, [1234, 2500]),
        ({"thousands": "none"}, [1.234, 2.5]),
    ],
)
def test_the_options_decide_the_marks(reads, options, values):
    sure = ["comma parts thousands"] if values[0] > 2 else []
    reads(one("1,234", "2,500"), column(values), sure, **options)


def test_a_cell_that_does_not_fit_what_is_said_is_refused(asks):
    asks(one("1.5", "2"), "does not fit the decimal mark", decimal="comma")
    asks(one("1,5", "2"), "does not fit the decimal mark", decimal="point")


def test_points_part_thousands_where_the_comma_is_said_to_be_decimal(reads):
    reads(one("1.234", "2.500"), column([1234, 2500]), ["point parts thousands"], decimal="comma")


DATES = {
    "points": (("3.4.2025", "13.4.2025"), ["2025-04-03", "2025-04-13"], True),
    "points that leave both": (("3.4.2025", "5.6.25"), ["2025-04-03", "2025-06-05"], False),
    "strokes, the day told": (("3/4/2025", "13/4/2025"), ["2025-04-03", "2025-04-13"], True),
    "strokes, the month told": (("3/14/2025", "4/5/2025"), ["2025-03-14", "2025-04-05"], True),
    "year first": (("2025/4/3", "2025/4/14"), ["2025-04-03", "2025-04-14"], True),
    "with the time": (("3.4.2025 8:30", "14.4.2025"), ["2025-04-03T08:30", "2025-04-14"], True),
}


@pytest.mark.parametrize("trick", DATES)
def test_dates(opened, trick):
    written, read, sure = DATES[trick]
    table = opened(one(*written, heading="day"))
    assert [cell.text for cell in table.column("day")] == read
    line = next(line for line in table.lines if "dates" in line.met)
    assert line.sure is sure


def test_dates_with_two_readings_are_asked(opened, asks):
    data = one("3/4/2025", "5/6/2025", heading="day")
    asks(data, "2025-04-03 (d.m.y) or 2025-03-04 (m/d/y)", next_step="--dates d.m.y or --dates m/")
    table = opened(data, dates="m/d/y")
    assert [cell.text for cell in table.column("day")] == ["2025-03-04", "2025-05-06"]
    asks(one("13/4/2025", "4/13/2025", heading="day"), "do not all have one order")
    asks(one("13/4/2025", "1/2/2025", heading="day"), "does not fit", dates="m/d/y")


TIMES = {
    "three parts": (("0:01:30", "1:00:00"), "dwell (s)", "dwell (s)", [90, 3600]),
    "in minutes": (("0:01:30", "1:00:00"), "dwell (min)", "dwell (min)", [1.5, 60]),
    "the heading says minutes": (("1:30", "0:45"), "dwell (mm:ss)", "dwell (s)", [90, 45]),
    "the heading says hours": (("1:30", "48:00"), "cure (h:mm)", "cure (s)", [5400, 172800]),
}


@pytest.mark.parametrize("trick", TIMES)
def test_times(reads, trick):
    written, heading, read_as, values = TIMES[trick]
    reads(one(*written, heading=heading), column(values, read_as), ["times such as"])


def test_times_with_two_readings_are_asked(reads, asks):
    data = one("1:30", "2:15", heading="dwell (s)")
    asks(data, "1 h 30 min or 1 min 30 s", next_step="--times h:mm or --times m:ss")
    reads(data, column([90, 135], "dwell (s)"), times="m:ss")
    reads(data, column([5400, 8100], "dwell (s)"), times="h:mm")
