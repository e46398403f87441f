"""Tables as they come: letters, separators, workbooks; nothing is dropped without a line."""

import pytest
from openpyxl import Workbook

from workbench.errors import FileError
from workbench.files.number_columns import number_column
from workbench.files.tables import read_table


@pytest.fixture
def written(tmp_path):
    def write(data, name="t.csv"):
        path = tmp_path / name
        path.write_bytes(data if isinstance(data, bytes) else data.encode())
        return path

    return write


def unsure(table):
    return [line for line in table.lines if not line.sure]


def texts(table):
    return [[cell.text for cell in row.cells] for row in table.rows]


@pytest.mark.parametrize("codec", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_letters(written, codec):
    table = read_table(written("größe;µ\n1,5;2\n3;4\n".encode(codec)))
    assert table.headings == ("größe", "µ")
    assert bool(unsure(table)) == (codec == "cp1252")


@pytest.mark.parametrize(("mark", "name"), [(",", "comma"), (";", "semicolon"), ("\t", "tab")])
def test_separators(written, mark, name):
    table = read_table(written(mark.join("ab") + "\n" + mark.join("12") + "\n"))
    assert table.headings == ("a", "b")
    assert any(f"{name} separates" in line.understood for line in table.lines)


def test_semicolons_with_decimal_commas(written):
    table = read_table(written("Y;leaf\n16,5;1\n15;2\n"))
    assert texts(table) == [["16,5", "1"], ["15", "2"]]
    column = number_column(table, "Y", unit="")
    assert [one.value for one in column.numbers] == [16.5, 15]
    assert any(line.understood == "decimal comma" for line in column.lines)


def test_empty_rows_and_columns_are_named(written):
    table = read_table(written("a,x,b\n1,,2\n\n3,,4\n"))
    assert table.headings == ("a", "b")
    assert [row.number for row in table.rows] == [2, 4]
    said = {(line.where, line.understood) for line in table.lines}
    assert ("t.csv, row 3", "left out") in said
    assert ("t.csv, column 'x'", "left out") in said


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "is empty"),
        (b"\n\n", "is empty"),
        (b",,\n,,\n", "table is empty"),
        (b"a,b\n", "no rows"),
        (b"a,a\n1,2\n", "stands twice"),
        (b"a,A\n1,2\n", "stands twice"),
        (b"a,,b\n1,2,3\n", "no heading"),
        (b"a,b\n1,2,3\n", "3 cells under 2 headings"),
        (b'a,b\n"1,2\n', "breaks off"),
        (b"a\x00b,c\n1,2\n", "not text"),
        (b"PK\x03\x04 no workbook", "not a readable .xlsx"),
        (b"\xd0\xcf\x11\xe0 old", "old kind"),
    ],
)
def test_refusals(written, data, words):
    with pytest.raises(FileError, match=words) as met:
        read_table(written(data))
    assert met.value.next_step


def test_missing_file_and_wrong_sheet(written, tmp_path):
    with pytest.raises(FileError, match="cannot be read"):
        read_table(tmp_path / "none.csv")
    with pytest.raises(FileError, match="not a workbook"):
        read_table(written("a,b\n1,2\n"), sheet="x")


@pytest.fixture
def workbook(tmp_path):
    book = Workbook()
    book.active.title = "notes"
    data = book.create_sheet("data")
    data.append(["part", "force (N)", "share"])
    data.append([1, 0.123456789012345, 0.07])
    data["C2"].number_format = "0%"

    def save(change=None):
        if change:
            change(book)
        path = tmp_path / "book.xlsx"
        book.save(path)
        return path

    return save


def test_the_only_sheet_with_values_is_read_and_said(workbook):
    table = read_table(workbook())
    assert table.source == "book.xlsx, sheet 'data'"
    assert any("one with values" in line.met for line in table.lines)
    assert table.rows[0].cells[1].number == 0.123456789012345
    assert table.rows[0].cells[2].text == "7%"


def test_several_sheets_need_a_name(workbook):
    path = workbook(lambda book: book["notes"].append(["x"]))
    with pytest.raises(FileError, match="2 sheets hold values: notes, data"):
        read_table(path)
    assert read_table(path, sheet="data").headings[0] == "part"
    with pytest.raises(FileError, match="no sheet 'other'"):
        read_table(path, sheet="other")


def test_a_formula_that_was_never_calculated_is_refused_by_its_cell(workbook):
    with pytest.raises(FileError, match="cell B3 was never calculated"):
        read_table(workbook(lambda book: book["data"].append([2, "=B2*2"])))


def test_units_in_cells_are_converted_or_refused(written):
    table = read_table(written("f;g\n1 kN;1 N\n500 N;1 mm\n"))
    assert [n.value for n in number_column(table, "f", unit="N").numbers] == [1000, 500]
    with pytest.raises(FileError, match=r"row 3, column 'g'.*cannot be converted"):
        number_column(table, "g", unit="N")
