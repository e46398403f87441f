"""Whatever the file: only our own errors come out, and what was written is read back."""

import contextlib
import io
import tempfile
import zipfile
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl import Workbook

from workbench import files
from workbench.errors import WorkbenchError
from workbench.files.number_columns import number_column, share_of_numbers

FEW = settings(max_examples=50, deadline=None, suppress_health_check=[HealthCheck.too_slow])
MARKS = {"comma": ",", "semicolon": ";", "tab": "\t", "pipe": "|"}
PIECES = st.sampled_from(
    [
        "run", "force (N)", "1", "2.5", "3,5", "1.234", "1,234", ";", ",", "\t", "|", "\n", "\n\n",
        '"', "mean", "total", "%", "mm", ">250", "n/a", "3/4/2025", "1:30", "-", "---", " ", "é",
        "\ufeff", "sep=;", "*", "(", "=1+1", "\x00", "1e9", "nan", "\u2028",
    ]
)  # fmt: skip


def read_all(data):
    """Read a table and every column of it as numbers; only our own errors may come out."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "t"
        path.write_bytes(data)
        with contextlib.suppress(WorkbenchError):
            table = files.read_table(path)
            for heading in table.headings:
                assert len(table.column(heading)) == len(table.rows) == len(table)
                share_of_numbers(table.column(heading))
                with contextlib.suppress(WorkbenchError):
                    values = number_column(table, heading, unit="").values
                    assert not np.isinf(values).any()


@pytest.mark.property
@FEW
@given(st.lists(PIECES, max_size=60))
def test_any_text(pieces):
    read_all("".join(pieces).encode())


@pytest.mark.property
@FEW
@given(st.binary(max_size=200))
def test_any_bytes(data):
    read_all(data)


def a_workbook():
    book = Workbook()
    for row in (["lot", "force (N)", "day"], ["A", 10.5, "3.4.2025"], [None, "=1", 0.5]):
        book.active.append(row)
    book.active.merge_cells("A2:A3")
    book.active["B2"].number_format = "0.0%"
    stream = io.BytesIO()
    book.save(stream)
    with zipfile.ZipFile(stream) as packed:
        return {name: packed.read(name) for name in packed.namelist()}


PARTS = a_workbook()
READ_PARTS = [name for name in PARTS if "docProps" not in name and "theme" not in name]


@pytest.mark.property
@FEW
@given(
    st.sampled_from(READ_PARTS), st.integers(0, 10**6), st.binary(max_size=6), st.integers(0, 9)
)
def test_any_damage_to_a_part_of_a_workbook(name, place, new, gone):
    old = PARTS[name]
    at = place % (len(old) + 1)
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as packed:
        for one, data in PARTS.items():
            packed.writestr(one, old[:at] + new + old[at + gone :] if one == name else data)
    read_all(stream.getvalue())


NUMBERS = st.lists(
    st.decimals(-99_999, 99_999, places=2).map(float), min_size=2, max_size=8
).filter(lambda values: len(set(values)) > 1)


@pytest.mark.property
@FEW
@given(
    NUMBERS,
    st.sampled_from(sorted(MARKS)),
    st.sampled_from(".,"),
    st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252"]),
)
def test_what_is_written_is_read_back(values, separator, decimal, encoding):
    mark = MARKS[separator]
    texts = [f"{value:.2f}".replace(".", decimal) for value in values]
    cells = [f'"{text}"' if mark in text else text for text in texts]
    rows = "".join(f"{i}{mark}{cell}\n" for i, cell in enumerate(cells, 1))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "t"
        path.write_bytes(f"run{mark}größe\n{rows}".encode(encoding))
        table = files.read_table(path, options=files.ReadOptions(totals="keep"))
        assert table.headings == ("run", "größe")
        assert number_column(table, "größe", unit="").values.tolist() == values


@pytest.mark.property
@settings(max_examples=15, deadline=None)
@given(st.lists(st.integers(-(10**14), 10**14), min_size=1, max_size=6), st.integers(-20, 20))
def test_numbers_of_a_sheet_are_exact(whole, power):
    """Fifteen digits, for the program that writes the sheet keeps no more."""
    values = [float(f"{one}e{power}") for one in whole]
    book = Workbook()
    book.active.append(["label", "force"])
    for i, value in enumerate(values):
        book.active.append([f"part {i}", value])
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "t.xlsx"
        book.save(path)
        table = files.read_table(path, options=files.ReadOptions(totals="keep"))
        assert number_column(table, "force", unit="").values.tolist() == values
