"""Workbooks (.xlsx): merged, hidden and crossed-out cells, formats, formulas, several sheets."""

import datetime as dt
import io
import zipfile

import pytest
from openpyxl import Workbook
from openpyxl.styles import Font

from workbench import files
from workbench.errors import FileError, OptionError

DAY = dt.datetime(2025, 4, 13, 8, 30)  # noqa: DTZ001 - a sheet knows no zone
HEAD = ["run", "force (N)"]
ROWS = [HEAD, [1, 10.5], [2, 20], [3, 33]]
RUNS = {"run": [1, 2, 3], "force (N)": [10.5, 20, 33]}


def merged(*ranges):
    def change(sheet):
        for one in ranges:
            sheet.merge_cells(one)

    return change


def formatted(**formats):
    def change(sheet):
        for cell, code in formats.items():
            sheet[cell].number_format = code

    return change


def hidden_row(sheet):
    sheet.row_dimensions[3].hidden = True


def hidden_column(sheet):
    sheet.column_dimensions["B"].hidden = True


def filtered(sheet):
    sheet.auto_filter.ref = "A1:B4"
    sheet.auto_filter.add_filter_column(0, ["1", "3"])
    hidden_row(sheet)


def struck(sheet):
    sheet["B3"].font = Font(strike=True)


def added_sheet(state):
    def change(sheet):
        other = sheet.parent.create_sheet("other")
        other.append(["old", "values"])
        other.append([1, 2])
        other.sheet_state = state

    return change


READ = {
    "a block column merged down": (
        (
            [["lot", "force"], ["A", 10], [None, 20], ["B", 33], [None, 34]],
            merged("A2:A3", "A4:A5"),
        ),
        {"lot": ["A", "A", "B", "B"], "force": [10, 20, 33, 34]},
        ["cell A2:A3, A4:A5: merged down -> the value holds for each row"],
        [],
    ),
    "groups merged over headings": (
        (
            [
                ["run", "peel force (N)", None, "gap (mm)"],
                [None, "part 1", "part 2", None],
                [1, 10, 11, 0.5],
                [2, 20, 21, 0.7],
            ],
            merged("A1:A2", "B1:C1", "D1:D2"),
        ),
        {
            "run": [1, 2],
            "peel force, part 1 (N)": [10, 20],
            "peel force, part 2 (N)": [11, 21],
            "gap (mm)": [0.5, 0.7],
        },
        ["rows 1 to 2: 2 rows of headings -> joined: peel force, part 1 (N)"],
        [],
    ),
    "groups, headings and units": (
        (
            [
                [None, "settings", None, "outcomes", None],
                ["run", "bead", "dwell", "force", "gap"],
                [None, "mm3", "s", "N", "mm"],
                [1, 5, 2, 10, 0.5],
                [2, 6, 3, 20, 0.7],
            ],
            merged("B1:C1", "D1:E1"),
        ),
        {
            "run": [1, 2],
            "settings, bead (mm³)": [5, 6],
            "settings, dwell (s)": [2, 3],
            "outcomes, force (N)": [10, 20],
            "outcomes, gap (mm)": [0.5, 0.7],
        },
        ["rows 1 to 2: 2 rows of headings", "row 3: a row of units"],
        [],
    ),
    "a title merged over the whole table": (
        ([["Pull test", None], *ROWS], merged("A1:B1")),
        RUNS,
        ["row 1: a note above the headings: Pull test -> left out"],
        [],
    ),
    "a remark merged across cells": (
        ([["run", "x", "y"], [1, 2, 3], [2, 5, None], [3, 8, 9]], merged("B3:C3")),
        {"run": [1, 2, 3], "x": [2, 5, 8], "y": [3, None, 9]},
        [],
        ["cell B3:C3: merged across"],
    ),
    "a hidden row": ((ROWS, hidden_row), RUNS, [], ["row 3: hidden or filtered away -> read"]),
    "a filtered row": ((ROWS, filtered), RUNS, [], ["row 3: hidden or filtered away -> read"]),
    "a hidden column": ((ROWS, hidden_column), RUNS, [], ["column B (force (N)): hidden -> read"]),
    "a value crossed out": ((ROWS, struck), RUNS, [], ["cell B3: crossed out -> read as it"]),
    "numbers kept as text": (
        [HEAD, [1, "10,5"], [2, 20], [3, "33"]],
        RUNS,
        ["2 numbers kept as text", "decimal comma"],
        [],
    ),
    "true and false": (
        [["run", "wetted"], [1, True], [2, False]],
        {"run": [1, 2], "wetted": ["TRUE", "FALSE"]},
        [],
        [],
    ),
    "shares shown as percent": (
        ([["run", "share"], [1, 0.455], [2, 0.07]], formatted(B2="0.0%", B3="0%")),
        {"run": [1, 2], "share": [45.5, 7]},
        ["the unit % in 2 of 2 cells"],
        [],
    ),
    "a unit shown by the format": (
        ([["run", "bead"], [1, 5.25], [2, 6]], formatted(B2='0.00" mm³"', B3='0.0" mm³"')),
        {"run": [1, 2], "bead": [5.25, 6]},
        ["the unit mm³ in 2 of 2 cells"],
        [],
    ),
    "more digits than are shown": (
        ([["run", "bead"], [1, 5.123456789012345]], formatted(B2="0.0")),
        {"run": [1], "bead": [5.123456789012345]},
        [],
        [],
    ),
    "true dates": (
        [["run", "day"], [1, dt.date(2025, 4, 3)], [2, DAY]],
        {"run": [1, 2], "day": ["2025-04-03", "2025-04-13T08:30:00"]},
        [],
        [],
    ),
    "true times under seconds": (
        ([["run", "dwell (s)"], [1, dt.time(0, 1, 30)], [2, dt.timedelta(minutes=2)]]),
        {"run": [1, 2], "dwell (s)": [90, 120]},
        ["times such as 00:01:30"],
        [],
    ),
    "empty rows above and columns before": (
        [[], [], [None, None, *HEAD], [None, None, 1, 10.5], [None, None, 2, 20]],
        {"run": [1, 2], "force (N)": [10.5, 20]},
        [],
        [],
    ),
    "a hidden sheet beside": (
        (ROWS, added_sheet("hidden")),
        RUNS,
        ["2 sheets, one with values in sight"],
        ["sheet 'other': a hidden sheet with values -> left out"],
    ),
    "an error outside the columns that are used": (
        [["run", "force", "ratio"], [1, 10, "#DIV/0!"], [2, 20, "3"]],
        {"run": [1, 2], "force": [10, 20], "ratio": ["#DIV/0!", "3"]},
        [],
        [],
    ),
}

SWAPPED = [["run", "day"], [1, dt.date(2025, 3, 4)], [2, "13/04/2025"]]
ASKED = {
    "a formula never calculated": (
        [["run", "force"], [1, 10], [2, "=B2*2"]],
        "cell B3 was never calculated",
        "let it calculate",
    ),
    "two sheets": ((ROWS, added_sheet("visible")), "2 sheets hold values", "--sheet"),
    "dates that a program exchanged": (SWAPPED, "stand beside true dates", "--dates d.m.y"),
    "a minute and a half typed as an hour": (
        [["run", "dwell (m:ss)"], [1, dt.time(1, 30)]],
        "1 h 30 min or 1 min 30 s",
        "--times m:ss",
    ),
    "a true date among numbers": (
        [["run", "force"], [1, 10], [2, dt.date(2025, 4, 3)]],
        "such as 3.4 into this date",
        "Write the number",
    ),
    "a failed formula": (
        [["run", "force"], [1, 10], [2, "#DIV/0!"]],
        "row 3, column 'force'",
        "Mend the formula",
    ),
}


@pytest.mark.parametrize("trick", READ)
def test_read(reads, trick):
    data, expected, says, unsure = READ[trick]
    reads(data, expected, says, unsure)


@pytest.mark.parametrize("trick", ASKED)
def test_asked(asks, trick):
    data, words, next_step = ASKED[trick]
    asks(data, words, next_step=next_step)


def test_the_options_decide(reads):
    reads(SWAPPED, {"run": [1, 2], "day": ["2025-03-04", "2025-04-13"]}, dates="d.m.y")
    typed = [["run", "dwell (m:ss)"], [1, dt.time(1, 30)]]
    reads(typed, {"run": [1], "dwell (s)": [90]}, times="m:ss")
    reads((ROWS, added_sheet("visible")), {"old": [1], "values": [2]}, sheet="other")


def part(data, name, change):
    """Return a workbook with one of its parts changed as text."""
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(stream, "w") as new:
        for one in old.namelist():
            text = old.read(one)
            new.writestr(one, change(text.decode()) if one == name else text)
    return stream.getvalue()


@pytest.fixture(scope="module")
def plain():
    book = Workbook()
    for row in ROWS:
        book.active.append(row)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


SHEET = "xl/worksheets/sheet1.xml"


def test_last_calculated_values_are_taken_and_said(plain, reads):
    def change(text):
        return text.replace("<v>20</v>", "<f>2*10</f><v>20</v>")

    reads(part(plain, SHEET, change), RUNS, unsure=["a cell with a formula"])


def test_old_formulas_beside_the_data_are_left_out(reads):
    rows = [["run", "force", None, "bead", "new"], [1, 10, None, 7, 8], [2, 20], [3, 33]]
    book = Workbook()
    for row in rows:
        book.active.append(row)
    stream = io.BytesIO()
    book.save(stream)

    def change(text):
        return text.replace("<v>7</v>", "<f>B2-3</f><v>7</v>").replace(
            "<v>8</v>", "<f>B2-2</f><v>8</v>"
        )

    expected = {"run": [1, 2, 3], "force": [10, 20, 33]}
    reads(part(stream.getvalue(), SHEET, change), expected, unsure=["a block of formulas: D1"])


LINK = (
    '<Relationship Id="rIdT" Target="sharedStrings.xml" Type="http://schemas.openxmlformats.org/'
    'officeDocument/2006/relationships/sharedStrings"/></Relationships>'
)
SHARED = (
    "<sst><si><t>run</t><rPh><t>aid</t></rPh></si>"
    '<si><r><t>force </t></r><r><rPr><strike val="0"/></rPr><t>(N)</t></r></si>'
    "<si><r><rPr><strike/></rPr><t>10</t></r><r><t>20</t></r></si></sst>"
)


def test_texts_shared_by_cells_with_parts_crossed_out(plain, reads):
    def change(text):
        text = text.replace('t="inlineStr"><is><t>run</t></is>', 't="s"><v>0</v>')
        text = text.replace('t="inlineStr"><is><t>force (N)</t></is>', 't="s"><v>1</v>')
        return text.replace('t="n"><v>20</v>', 't="s"><v>2</v>')

    data = part(plain, SHEET, change)
    data = part(data, "xl/_rels/workbook.xml.rels", lambda t: t.replace("</Relationships>", LINK))
    stream = io.BytesIO(data)
    with zipfile.ZipFile(stream, "a") as packed:
        packed.writestr("xl/sharedStrings.xml", SHARED)
    expected = {"run": [1, 2, 3], "force (N)": [10.5, 1020, 33]}
    reads(stream.getvalue(), expected, ["a number kept as text"], ["cell B3: crossed out"])


def test_days_counted_from_1904(opened):
    book = Workbook()
    book.epoch = dt.datetime(1904, 1, 1)  # noqa: DTZ001 - the day count of a sheet has no zone
    book.active.append(["run", "day"])
    book.active.append([1, dt.date(2025, 4, 3)])
    stream = io.BytesIO()
    book.save(stream)
    assert opened(stream.getvalue()).rows[0].cells[1].text == "2025-04-03"


@pytest.mark.parametrize(
    "change",
    [
        lambda text: text.replace("<worksheet", "<!DOCTYPE x [<!ENTITY a 'b'>]><worksheet", 1),
        lambda text: text.replace('r="B3"', 'r="B3!"'),
        lambda text: text.replace('r="B3"', 'r="ÄÄ3"'),
        lambda text: text.replace('t="inlineStr"><is><t>run</t></is>', 't="s"><v>99</v>'),
        lambda text: text.replace("</worksheet>", ""),
        lambda _: "",
    ],
    ids=["a document type", "a wrong cell", "wrong letters", "no such text", "cut off", "empty"],
)
def test_damaged_sheets_are_refused(plain, opened, change):
    with pytest.raises(FileError):
        opened(part(plain, SHEET, change))


def test_numbers_that_are_none_stay_text(plain, opened):
    data = part(plain, SHEET, lambda text: text.replace("<v>20</v>", "<v>1_0</v>"))
    data = part(data, SHEET, lambda text: text.replace("<v>33</v>", "<v>nan</v>"))
    table = opened(data)
    assert [cell.number for cell in table.column("force (N)")] == [10.5, None, None]


def test_the_options_are_checked():
    for wrong in (
        {"decimal": ";"},
        {"dates": "y.d.m"},
        {"table": "B"},
        {"headings": 12},
        {"decimal": "comma", "thousands": "comma"},
        {"times": "s"},
        {"totals": "drop"},
        {"encoding": "ebcdic"},
        {"separator": ";"},
        {"thousands": "x"},
    ):
        with pytest.raises(OptionError) as met:
            files.ReadOptions(**wrong)
        assert met.value.place.startswith("--")
