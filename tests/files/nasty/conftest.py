"""Write a nasty table, read it, and hold it against what it says or the question it must ask."""

import io
import math

import pytest
from openpyxl import Workbook

from workbench import files
from workbench.errors import FileError
from workbench.files.number_columns import number_column


def as_bytes(data):
    """Bytes as they are, text as UTF-8, rows (and a change to the sheet) as an .xlsx workbook."""
    if isinstance(data, bytes):
        return data
    if isinstance(data, str):
        return data.encode()
    rows, change = data if isinstance(data, tuple) else (data, None)
    book = Workbook()
    for row in rows:
        book.active.append(row)
    if change is not None:
        change(book.active)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


@pytest.fixture
def opened(tmp_path):
    def read(data, **options):
        path = tmp_path / "t"
        path.write_bytes(as_bytes(data))
        return files.read_table(path, options=files.ReadOptions(**options))

    return read


@pytest.fixture
def reads(opened):
    """Check every heading and value of a table, and that the receipt says these words."""

    def check(data, expected, says=(), unsure=(), **options):
        table = opened(data, **options)
        assert table.headings == tuple(expected)
        lines = list(table.lines)
        for heading, values in expected.items():
            cells = table.column(heading)
            if all(isinstance(one, str) for one in values):
                assert [cell.text for cell in cells] == values
                continue
            column = number_column(table, heading, unit="")
            lines += column.lines
            wanted = [math.nan if one is None else one for one in values]
            assert column.values.tolist() == pytest.approx(wanted, rel=1e-15, nan_ok=True)
            assert [one is None for one in column.numbers] == [one is None for one in values]
        said = [f"{line.where}: {line.met} -> {line.understood}" for line in lines]
        for words in (*says, *unsure):
            assert any(words in one for one in said), said
        doubted = [one for one, line in zip(said, lines, strict=True) if not line.sure]
        for words in unsure:
            assert any(words in one for one in doubted), doubted
        for one in doubted:
            assert any(words in one for words in unsure), one

    return check


@pytest.fixture
def asks(opened):
    """Check that reading a table, or one of its columns as numbers, is refused in these words."""

    def check(data, words, *, column="", next_step="", **options):
        def read():
            table = opened(data, **options)
            number_column(table, column or table.headings[-1], unit="")

        with pytest.raises(FileError) as met:
            read()
        assert words in str(met.value)
        assert next_step in met.value.next_step
        assert met.value.place

    return check
