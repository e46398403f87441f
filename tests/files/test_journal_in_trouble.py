"""The journal: nothing is lost, nothing is changed unseen."""

import errno
import os
import tempfile

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from journal_bench import NOON, entries, reading

from workbench.errors import FileError
from workbench.files import journal_files, locks
from workbench.files.entries import (
    ReadingEntry,
    ReceiptEntry,
    RunEntry,
    Setting,
    entry_from_json,
    entry_to_json,
)
from workbench.files.journal import append, read_journal, writer_name
from workbench.run.receipt import ReceiptLine


def test_a_link_in_place_of_a_journal_is_not_written_through(tmp_path):
    (tmp_path / "results").mkdir()
    (tmp_path / "elsewhere").write_text("")
    (tmp_path / "results" / "a.jsonl").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(FileError, match="link to another place"):
        append(tmp_path, [reading(1)], writer="a", who="A")
    assert (tmp_path / "elsewhere").read_text() == ""


def test_a_folder_in_place_of_a_journal_is_named(tmp_path):
    (tmp_path / "results" / "a.jsonl").mkdir(parents=True)
    with pytest.raises(FileError, match="it is no file"):
        read_journal(tmp_path)


def test_a_results_folder_that_cannot_be_read_is_not_taken_for_an_empty_one(tmp_path):
    (tmp_path / "results").write_text("in the way")
    with pytest.raises(FileError, match="results: The journal cannot be read: Not a directory"):
        read_journal(tmp_path)


def test_a_link_to_nothing_is_not_taken_for_an_empty_journal(tmp_path):
    (tmp_path / "results").mkdir()
    (tmp_path / "results" / "a.jsonl").symlink_to(tmp_path / "gone")
    with pytest.raises(FileError, match="it is no file"):
        read_journal(tmp_path)


def test_a_copy_that_a_sync_program_made_loses_nothing(tmp_path):
    results = tmp_path / "results"
    append(tmp_path, [reading(1), reading(2, run=2)], writer="a", who="A", when=NOON)
    (results / "a (copy of bench-2).jsonl").write_bytes((results / "a.jsonl").read_bytes())
    append(tmp_path, [reading(3, run=3)], writer="a", who="A", when=NOON)
    found = [(one.writer, one.entry.run) for one in read_journal(tmp_path).entries]
    assert sorted(run for writer, run in found if writer == "a") == [1, 2, 3]
    assert sorted(run for writer, run in found if writer != "a") == [1, 2]


def test_a_journal_beyond_the_limit_is_neither_written_nor_read(tmp_path, monkeypatch):
    monkeypatch.setattr(journal_files, "MOST_BYTES", 2_000)
    append(tmp_path, [reading(1)], writer="a", who="A")
    with pytest.raises(FileError, match="would have"):
        append(tmp_path, [reading(float(i), run=i) for i in range(2, 9)], writer="a", who="A")
    assert entries(tmp_path) == [reading(1)]
    monkeypatch.setattr(journal_files, "MOST_BYTES", 100)
    with pytest.raises(FileError, match="The journal has"):
        read_journal(tmp_path)


@pytest.mark.parametrize("call", ["write", "fsync"])
def test_a_full_disk_leaves_the_file_as_it_was(tmp_path, monkeypatch, call):
    append(tmp_path, [reading(1)], writer="a", who="A")
    path = tmp_path / "results" / "a.jsonl"
    before = path.read_bytes()
    real_write, calls = os.write, []

    def full(handle, *data):
        calls.append(handle)
        if call == "write" and len(calls) == 1:
            return real_write(handle, data[0][:30])  # a part of it still fits
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, call, full)
    for _ in range(2):
        calls.clear()
        with pytest.raises(FileError, match=r"No space left on device.*the file stands as before"):
            append(tmp_path, [reading(2, run=2)], writer="a", who="A")
        assert path.read_bytes() == before
    monkeypatch.undo()
    append(tmp_path, [reading(2, run=2)], writer="a", who="A")
    assert entries(tmp_path) == [reading(1), reading(2, run=2)]


def test_an_end_that_cannot_be_noted_takes_nothing_back(tmp_path, monkeypatch):
    append(tmp_path, [reading(1)], writer="a", who="A")

    def full(*_, **__):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(tempfile, "mkstemp", full)
    append(tmp_path, [reading(2, run=2)], writer="a", who="A")
    assert entries(tmp_path) == [reading(1), reading(2, run=2)]
    assert "never confirmed" in read_journal(tmp_path).notes[0]


def test_appending_does_not_read_what_stands_before(tmp_path, monkeypatch):
    append(tmp_path, [reading(float(i), run=i) for i in range(1, 200)], writer="a", who="A")
    read = []
    real = journal_files.parsed
    monkeypatch.setattr(journal_files, "parsed", lambda data: read.append(data) or real(data))
    append(tmp_path, [reading(1.5)], writer="a", who="A")
    assert read == []
    assert len(entries(tmp_path)) == 200


def test_a_drive_without_locks_is_said(tmp_path, monkeypatch):
    monkeypatch.setattr(locks, "_take", lambda _handle: False)
    append(tmp_path, [reading(1)], writer="a", who="A")
    monkeypatch.undo()
    append(tmp_path, [reading(2)], writer="a", who="A")
    assert [one.is_locked for one in read_journal(tmp_path).entries] == [False, True]
    assert "cannot keep a second program out" in read_journal(tmp_path).notes[0]


def test_writer_names_are_safe_file_names():
    assert writer_name("../../x", "C:\\a b") == "x-c-a-b"
    assert writer_name("", "") == "x"


words = st.text(max_size=8)
numbers = st.floats(allow_nan=False, allow_infinity=False)
some_settings = st.lists(
    st.builds(Setting, factor=words, value=st.none() | words | numbers, unit=words),
    unique_by=lambda one: one.factor,
    max_size=3,
).map(tuple)
any_entry = st.one_of(
    st.builds(
        RunEntry,
        run=st.integers(1, 99),
        block=words,
        setup=st.none() | st.integers(1, 9),
        settings=some_settings,
        status=words,
        reason=words,
        note=words,
        settles=st.booleans(),
    ),
    st.builds(
        ReadingEntry,
        run=st.integers(1, 99),
        part=st.integers(1, 9),
        reading=st.integers(1, 9),
        outcome=words,
        text=words,
        value=numbers,
        unit=words,
        mark=st.sampled_from([-1, 0, 1]),
        settles=st.booleans(),
    ),
    st.builds(
        ReceiptEntry,
        source=words,
        digest=words,
        n_rows=st.integers(0, 99),
        columns=st.lists(words, max_size=3).map(tuple),
        lines=st.lists(
            st.builds(ReceiptLine, where=words, met=words, understood=words, sure=st.booleans()),
            max_size=2,
        ).map(tuple),
    ),
)


@pytest.mark.property
@settings(max_examples=50, deadline=None)
@given(any_entry)
def test_entries_there_and_back(entry):
    assert entry_from_json(entry_to_json(entry)) == entry


@pytest.mark.property
@settings(max_examples=20, deadline=None)
@given(st.lists(any_entry, min_size=1, max_size=4))
def test_files_there_and_back(tmp_path_factory, some):
    folder = tmp_path_factory.mktemp("journal")
    append(folder, some, writer="a", who="Ω\u2028", when=NOON)
    assert entries(folder) == some


@pytest.fixture(scope="module")
def ten_entries(tmp_path_factory):
    folder = tmp_path_factory.mktemp("ten")
    append(folder, [reading(float(i), run=i) for i in range(1, 11)], writer="a", who="Åsa")
    return folder


@pytest.mark.property
@settings(max_examples=50, deadline=None)
@given(data=st.data())
def test_no_byte_can_change_or_go_unnoticed(ten_entries, data):
    path = ten_entries / "results" / "a.jsonl"
    whole = path.read_bytes()
    at = data.draw(st.integers(0, len(whole) - 1))
    byte = data.draw(st.integers(0, 255).filter(lambda one: one != whole[at]))
    harmed = data.draw(st.sampled_from(["changed", "cut"]))
    path.write_bytes(
        whole[:at] + bytes([byte]) + whole[at + 1 :] if harmed == "changed" else whole[:at]
    )
    try:
        if harmed == "cut" and at == len(whole) - 1:  # the line end alone: nothing is lost
            assert len(entries(ten_entries)) == 10
        else:
            with pytest.raises(FileError, match=r"not what was written|was written and ack"):
                read_journal(ten_entries)
    finally:
        path.write_bytes(whole)
