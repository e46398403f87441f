"""Files that are too large, or are packed to unfold: a clear message, quickly."""

import io
import struct
import zipfile

import pytest
from openpyxl import Workbook

from workbench.errors import FileError
from workbench.files import limits, packed
from workbench.files.packed import Package

ROW = '<row r="{0}"><c r="A{0}"><v>1</v></c><c r="B{0}"><v>2</v></c></row>'


@pytest.fixture(scope="module")
def workbook():
    book = Workbook()
    book.active.append(["run", "force"])
    book.active.append([1, 2])
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def with_sheet(workbook, text, *, packing=zipfile.ZIP_DEFLATED):
    stream = io.BytesIO()
    name = "xl/worksheets/sheet1.xml"
    with zipfile.ZipFile(io.BytesIO(workbook)) as old, zipfile.ZipFile(stream, "w") as new:
        for one in old.namelist():
            if one != name:
                new.writestr(one, old.read(one))
        new.writestr(name, text, compress_type=packing)
    return stream.getvalue()


def refused(opened, data, words):
    with pytest.raises(FileError, match=words) as met:
        opened(data)
    assert met.value.next_step


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"a,b\n" + b"1,2\n" * 201_100, "more than 200,000 rows"),
        (b"a,b\n" + b"1,2,3,4,5,6,7,8,9,0,1,2,3\n" * 80_000, "more than 1,000,000 cells"),
        (b"a," * 1_500 + b"b\n" + b"1," * 1_500 + b"2\n", "more than 1,000 columns"),
        (b"a,b\n1," + b"x" * 40_000 + b"\n", "A cell holds 40,000 letters"),
        (b'a,b\n1,"' + b"x" * 400_000 + b'"\n', "A cell holds"),
    ],
    ids=["rows", "cells", "columns", "a long cell", "a cell without end"],
)
def test_text_tables(opened, data, words):
    refused(opened, data, words)


def test_empty_rows_without_end_are_no_rows(opened):
    assert len(opened("a;b\n1;2\n" + ";\n" * 250_000)) == 1


def test_the_size_of_the_file(opened, monkeypatch):
    monkeypatch.setattr(limits, "BYTES_AT_MOST", 10)
    refused(opened, "a;b\n" + "1;2\n" * 9, "The file has")


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (ROW.format(1) + ROW.format(1_048_576), "more than 200,000 rows"),
        ('<row r="1"><c r="ALM1"><v>1</v></c></row>', "more than 1,000 columns"),
        (
            "".join(f'<row r="{i}"><c r="ALK{i}"><v>1</v></c></row>' for i in range(1, 1_100)),
            "cells",
        ),
        (f'<row r="1"><c r="A1" t="str"><v>{"x" * 40_000}</v></c></row>', "40,000 letters"),
    ],
    ids=["rows", "columns", "cells", "a long cell"],
)
def test_sheets(opened, workbook, rows, words):
    text = f"<worksheet><sheetData>{rows}</sheetData></worksheet>"
    refused(opened, with_sheet(workbook, text), words)


def test_a_sheet_that_unfolds_is_stopped_on_the_way(opened, workbook, monkeypatch):
    data = with_sheet(workbook, b" " * 30_000_000)
    assert len(data) < 100_000
    monkeypatch.setattr(packed, "UNPACKED_AT_MOST", 10_000_000)
    refused(opened, data, "unfolds to more than")


def test_a_size_that_is_stated_wrongly_is_not_believed(opened, workbook, monkeypatch):
    data = bytearray(with_sheet(workbook, b" " * 30_000_000))
    place = data.rfind(b"PK\x01\x02")
    while place >= 0:
        if struct.unpack_from("<I", data, place + 24)[0] == 30_000_000:
            struct.pack_into("<I", data, place + 24, 100)
        place = data.rfind(b"PK\x01\x02", 0, place)
    monkeypatch.setattr(packed, "UNPACKED_AT_MOST", 10_000_000)
    refused(opened, bytes(data), "unfolds|not a readable")


def test_all_parts_count_together(monkeypatch):
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as new:
        for name in "abc":
            new.writestr(name, b" " * 4_000_000)
    monkeypatch.setattr(packed, "UNPACKED_AT_MOST", 10_000_000)
    package = Package(archive=zipfile.ZipFile(stream), source="t")
    assert len(package.part("a")) == len(package.part("b")) == 4_000_000
    with pytest.raises(FileError, match="unfolds"):
        package.part("c")


def test_other_packings_and_too_many_elements_are_refused(opened, workbook, monkeypatch):
    text = "<worksheet><sheetData/></worksheet>"
    for packing in (zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA):
        refused(opened, with_sheet(workbook, text, packing=packing), "not a readable")
    many = f"<worksheet>{'<a/>' * 5_000}</worksheet>"
    monkeypatch.setattr(Package.__init__, "__defaults__", (0, 3_000))
    refused(opened, with_sheet(workbook, many), "more than 5,000,000 cells, formats")


def test_a_packed_file_of_another_kind(opened):
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as new:
        new.writestr("readme.txt", "no workbook")
    refused(opened, stream.getvalue(), "not a readable .xlsx or .ods workbook")
