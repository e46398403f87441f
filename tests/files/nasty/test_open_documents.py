"""Open document spreadsheets (.ods), written here by hand as ISO/IEC 26300-1 says."""

import io
import zipfile
from xml.sax.saxutils import quoteattr

import pytest

from workbench.errors import FileError

SPACES = " ".join(
    f'xmlns:{prefix}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"'
    for prefix, name in (
        ("office", "office"), ("table", "table"), ("text", "text"), ("style", "style"),
    )
)  # fmt: skip
STYLES = (
    '<style:style style:name="gone"><style:text-properties '
    'style:text-line-through-style="solid"/></style:style>'
    '<style:style style:name="unseen"><style:table-properties table:display="false"/>'
    "</style:style>"
)


def cell(value=None, **more):
    """One cell: a number, a text, or as its attributes say."""
    said = {"office:value-type": "float", "office:value": repr(value)}
    shown = f"{value}"
    if value is None or isinstance(value, str):
        said = {"office:value-type": "string"} if value else {}
        shown = value or ""
    said |= {key.replace("__", ":").replace("_", "-"): text for key, text in more.items()}
    words = " ".join(f"{key}={quoteattr(text)}" for key, text in said.items())
    return f"<table:table-cell {words}><text:p>{shown}</text:p></table:table-cell>"


def row(*cells, **more):
    words = " ".join(f'table:{key.replace("_", "-")}="{text}"' for key, text in more.items())
    inside = "".join(
        one if isinstance(one, str) and one[:1] == "<" else cell(one) for one in cells
    )
    return f"<table:table-row {words}>{inside}</table:table-row>"


def sheet(*rows, name="data", columns="", style="plain"):
    return (
        f'<table:table table:name="{name}" table:style-name="{style}">{columns}'
        f"{''.join(rows)}</table:table>"
    )


def book(*sheets, before=""):
    content = (
        f'<?xml version="1.0" encoding="UTF-8"?>{before}<office:document-content {SPACES}>'
        f"<office:automatic-styles>{STYLES}</office:automatic-styles><office:body>"
        f"<office:spreadsheet>{''.join(sheets)}</office:spreadsheet></office:body>"
        "</office:document-content>"
    )
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as packed:
        packed.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        packed.writestr("content.xml", content)
    return stream.getvalue()


HEAD = row("run", "force (N)")
RUNS = {"run": [1, 2, 3], "force (N)": [10.5, 20, 33]}
ROWS = (HEAD, row(1, 10.5), row(2, 20), row(3, 33))

READ = {
    "plain": (book(sheet(*ROWS)), RUNS, [], []),
    "rows and columns repeated to the edge": (
        book(
            sheet(
                *ROWS,
                row(cell(table__number_columns_repeated="1024"), number_rows_repeated="1048000"),
            )
        ),
        RUNS,
        [],
        [],
    ),
    "a value repeated to the right and down": (
        book(
            sheet(
                row("run", "x", "y"),
                row(1, cell(5, table__number_columns_repeated="2")),
                row(2, 7, 7, number_rows_repeated="2"),
            )
        ),
        {"run": [1, 2, 2], "x": [5, 7, 7], "y": [5, 7, 7]},
        [],
        [],
    ),
    "merged down": (
        book(
            sheet(
                row("lot", "force"),
                row(cell("A", table__number_rows_spanned="2"), 10),
                row("<table:covered-table-cell/>", 20),
                row("B", 33),
            )
        ),
        {"lot": ["A", "A", "B"], "force": [10, 20, 33]},
        ["cell A2:A3: merged down"],
        [],
    ),
    "hidden row and column": (
        book(
            sheet(
                HEAD,
                row(1, 10.5),
                row(2, 20, visibility="collapse"),
                row(3, 33, visibility="filter"),
                columns='<table:table-column/><table:table-column table:visibility="collapse"/>',
            )
        ),
        RUNS,
        [],
        ["row 3, 4: hidden or filtered", "column B (force (N)): hidden"],
    ),
    "crossed out": (
        book(sheet(HEAD, row(1, 10.5), row(2, cell(20, table__style_name="gone")), row(3, 33))),
        RUNS,
        [],
        ["cell B3: crossed out"],
    ),
    "a comment in a cell": (
        book(
            sheet(
                HEAD,
                row(
                    1,
                    '<table:table-cell office:value-type="float" office:value="10.5">'
                    "<office:annotation><text:p>99</text:p></office:annotation>"
                    "<text:p>10,50</text:p></table:table-cell>",
                ),
            )
        ),
        {"run": [1], "force (N)": [10.5]},
        [],
        [],
    ),
    "percent, date, time, truth": (
        book(
            sheet(
                row("share", "day", "dwell (s)", "wetted"),
                row(
                    cell(office__value_type="percentage", office__value="0.455"),
                    cell(office__value_type="date", office__date_value="2025-04-03"),
                    cell(office__value_type="time", office__time_value="PT00H01M30S"),
                    cell(office__value_type="boolean", office__boolean_value="true"),
                ),
            )
        ),
        {"share": [45.5], "day": ["2025-04-03"], "dwell (s)": [90], "wetted": ["TRUE"]},
        ["the unit %", "times such as 00:01:30"],
        [],
    ),
    "a formula with its value": (
        book(sheet(HEAD, row(1, 10.5), row(2, cell(20, table__formula="of:=2*10")), row(3, 33))),
        RUNS,
        [],
        ["a cell with a formula"],
    ),
    "a hidden sheet": (
        book(sheet(row("old", "x"), row(1, 2), name="old", style="unseen"), sheet(*ROWS)),
        RUNS,
        ["the sheet 'data' is read"],
        ["a hidden sheet with values"],
    ),
}


@pytest.mark.parametrize("trick", READ)
def test_read(reads, trick):
    data, expected, says, unsure = READ[trick]
    reads(data, expected, says, unsure)


FAR = cell(5, table__number_columns_repeated="99999")
ASKED = {
    "two sheets": (book(sheet(*ROWS), sheet(*ROWS, name="more")), "2 sheets hold values"),
    "a formula never calculated": (
        book(sheet(HEAD, row(1, cell(table__formula="of:=2*10")), row(2, 3))),
        "cell B2 was never calculated",
    ),
    "a value repeated without end": (book(sheet(HEAD, row(1, FAR))), "columns"),
    "a row repeated without end": (
        book(sheet(HEAD, row(1, 2, number_rows_repeated="1000000"))),
        "more than 200,000 rows",
    ),
    "a wrong count": (book(sheet(HEAD, row(1, 2, number_rows_repeated="-1"))), "not a readable"),
    "entities that unfold": (
        book(sheet(*ROWS), before="<!DOCTYPE x [<!ENTITY a 'aaaa'><!ENTITY b '&a;&a;'>]>"),
        "document type declaration",
    ),
    "no sheet": (book(), "not a readable"),
}


@pytest.mark.parametrize("trick", ASKED)
def test_asked(opened, trick):
    data, words = ASKED[trick]
    with pytest.raises(FileError, match=words):
        opened(data)
