"""The journal: nothing is lost, nothing is changed unseen."""

import errno
import hashlib
import json
import os
import tempfile
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

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

NOON = datetime(2024, 5, 1, 12, tzinfo=UTC)


def reading(value, run=1):
    return ReadingEntry(
        run=run, part=1, reading=1, outcome="force", text=f"{value}", value=value, unit="N"
    )


def entries(folder):
    return [one.entry for one in read_journal(folder).entries]


def test_what_is_appended_is_read_back_with_who_and_when(tmp_path):
    append(tmp_path, [RunEntry(run=1), reading(2.5)], writer="bench", who="Åsa", when=NOON)
    found = read_journal(tmp_path).entries
    assert [one.entry for one in found] == [RunEntry(run=1), reading(2.5)]
    assert {(one.who, one.when[:16]) for one in found} == {("Åsa", "2024-05-01T12:00")}
    assert [one.sequence for one in found] == [1, 2]


def test_two_writers_are_merged_by_time_then_writer_then_sequence(tmp_path):
    append(tmp_path, [reading(3, run=3)], writer="a", who="A", when=NOON + timedelta(hours=1))
    append(tmp_path, [reading(1, run=1)], writer="b", who="B", when=NOON)
    append(tmp_path, [reading(2, run=2)], writer="b", who="B", when=NOON + timedelta(hours=1))
    assert [one.run for one in entries(tmp_path)] == [1, 3, 2]


def append_and_tear(folder, entry, keep=60):
    """Leave the folder as a power cut does that comes while an entry is being written."""
    results = folder / "results"
    kept = {name: (results / name).read_bytes() for name in ("a.jsonl", "a.end")}
    append(folder, [entry], writer="a", who="A", when=NOON)
    (results / "a.end").write_bytes(kept["a.end"])
    whole = (results / "a.jsonl").read_bytes()
    (results / "a.jsonl").write_bytes(whole[: len(kept["a.jsonl"]) + keep])


def test_a_torn_last_line_is_left_out_and_said_and_written_on_behind(tmp_path):
    append(tmp_path, [reading(1)], writer="a", who="A", when=NOON)
    append_and_tear(tmp_path, reading(2, run=2))
    found = read_journal(tmp_path)
    assert [one.entry for one in found.entries] == [reading(1)]
    assert "line 2 breaks off" in found.notes[0]
    append(tmp_path, [reading(3, run=3)], writer="a", who="A", when=NOON)
    assert entries(tmp_path) == [reading(1), reading(3, run=3)]
    assert "line 2 breaks off" in read_journal(tmp_path).notes[0]


def test_lines_that_broke_off_one_after_another_hide_nothing(tmp_path):
    append(tmp_path, [reading(1)], writer="a", who="A", when=NOON)
    path = tmp_path / "results" / "a.jsonl"
    append_and_tear(tmp_path, reading(2, run=2), keep=100)
    path.write_bytes(path.read_bytes() + b'\n{"schema": 2, "seq\n{"schema": 2\0\0\0')
    append(tmp_path, [reading(2, run=2)], writer="a", who="A", when=NOON)
    assert entries(tmp_path) == [reading(1), reading(2, run=2)]
    assert len(read_journal(tmp_path).notes) == 3


@pytest.mark.parametrize("lost", [1, 2, 3])
def test_lines_cut_cleanly_off_the_end_are_missed(tmp_path, lost):
    append(tmp_path, [reading(float(i), run=i) for i in (1, 2, 3)], writer="a", who="A", when=NOON)
    path = tmp_path / "results" / "a.jsonl"
    path.write_text("".join(lines_of(tmp_path)[:-lost]), encoding="utf-8")
    missed = rf"ends with entry {3 - lost}, but entry 3 was written and acknowledged"
    for again in (
        read_journal,
        lambda folder: append(folder, [reading(4.0)], writer="a", who="A"),
    ):
        with pytest.raises(FileError, match=missed):
            again(tmp_path)
    path.unlink()
    with pytest.raises(FileError, match=r"a\.jsonl: The file is gone"):
        read_journal(tmp_path)
    (tmp_path / "results" / "a.end").unlink()  # what the message offers
    assert entries(tmp_path) == []


def test_an_acknowledged_line_that_is_cut_short_is_missed(tmp_path):
    append(tmp_path, [reading(1), reading(2, run=2)], writer="a", who="A", when=NOON)
    path = tmp_path / "results" / "a.jsonl"
    path.write_bytes(path.read_bytes()[:-30])
    with pytest.raises(FileError, match="ends with entry 1, but entry 2"):
        read_journal(tmp_path)


def test_a_file_that_was_replaced_by_another_is_noticed(tmp_path):
    append(tmp_path, [reading(1), reading(2)], writer="a", who="A", when=NOON)
    append(tmp_path / "other", [reading(7), reading(8)], writer="a", who="A", when=NOON)
    other = tmp_path / "other" / "results" / "a.jsonl"
    (tmp_path / "results" / "a.jsonl").write_bytes(other.read_bytes())
    with pytest.raises(FileError, match=r"line 2: .*not what was written"):
        read_journal(tmp_path)


def test_an_entry_that_was_never_confirmed_counts_and_is_said(tmp_path):
    append(tmp_path, [reading(1)], writer="a", who="A", when=NOON)
    end = tmp_path / "results" / "a.end"
    before = end.read_bytes()
    append(tmp_path, [reading(2, run=2), reading(3, run=3)], writer="a", who="A", when=NOON)
    end.write_bytes(before)
    found = read_journal(tmp_path)
    assert len(found.entries) == 3
    assert "last 2 entries of results/a.jsonl were written but never confirmed" in found.notes[0]
    append(tmp_path, [reading(4, run=4)], writer="a", who="A", when=NOON)
    assert read_journal(tmp_path).notes == ()


@pytest.mark.parametrize("text", ["", "{}", "[]", "\u00e9", '{"schema": 1, "sequence": true}'])
def test_an_end_that_is_not_understood_is_named(tmp_path, text):
    append(tmp_path, [reading(1)], writer="a", who="A", when=NOON)
    (tmp_path / "results" / "a.end").write_text(text, encoding="utf-8")
    with pytest.raises(FileError, match=r"results/a\.end: .*not what was written.*delete it"):
        read_journal(tmp_path)


@pytest.mark.parametrize("tear", range(1, 12))
def test_no_tear_hides_what_was_acknowledged(tmp_path, tear):
    append(tmp_path, [reading(1)], writer="a", who="A", when=NOON)
    path = tmp_path / "results" / "a.jsonl"
    path.write_bytes(path.read_bytes() + b'{"sequence": 2, "who": "\xc3'[:tear])
    append(tmp_path, [reading(2, run=2)], writer="a", who="A", when=NOON)
    assert entries(tmp_path) == [reading(1), reading(2, run=2)]


def lines_of(folder):
    return (folder / "results" / "a.jsonl").read_text(encoding="utf-8").splitlines(keepends=True)


@pytest.mark.parametrize(
    ("change", "line"),
    [
        (lambda lines: [lines[0].replace("1.0", "9.0"), *lines[1:]], 1),
        (lambda lines: [lines[0], *lines[2:]], 2),
        (lambda lines: [lines[1], lines[0], lines[2]], 1),
        (lambda lines: [*lines, lines[2]], 4),
        (lambda lines: [lines[0], "garbage\n", "more\n", *lines[1:]], 2),
        (lambda lines: [lines[0], lines[1][:80] + "\n", lines[2]], 3),
        (lambda lines: [*lines[:2], "garbage\n"], 3),
    ],
    ids=["changed", "taken out", "moved", "doubled", "two bad lines", "cut", "bad last line"],
)
def test_a_changed_past_is_noticed_with_its_line(tmp_path, change, line):
    append(tmp_path, [reading(float(i), run=i) for i in (1, 2, 3)], writer="a", who="A", when=NOON)
    changed = "".join(change(lines_of(tmp_path)))
    (tmp_path / "results" / "a.jsonl").write_text(changed, encoding="utf-8")
    with pytest.raises(FileError, match=rf"a\.jsonl, line {line}: .*not what was written"):
        read_journal(tmp_path)


@pytest.mark.parametrize(
    "change",
    [
        lambda lines: [*lines[:2], lines[2].replace("3.0", "9.0")],
        lambda lines: [*lines, "garbage\n"],
        lambda lines: [lines[0], lines[2], lines[1]],
    ],
    ids=["changed", "bad", "moved"],
)
def test_nothing_is_written_behind_an_end_that_was_changed(tmp_path, change):
    append(tmp_path, [reading(float(i), run=i) for i in (1, 2, 3)], writer="a", who="A", when=NOON)
    path = tmp_path / "results" / "a.jsonl"
    path.write_text("".join(change(lines_of(tmp_path))), encoding="utf-8")
    before = path.read_bytes()
    with pytest.raises(FileError, match="not what was written"):
        append(tmp_path, [reading(4.0)], writer="a", who="A", when=NOON)
    assert path.read_bytes() == before


def test_line_ends_may_change_on_the_way(tmp_path):
    append(tmp_path, [reading(1), reading(2, run=2)], writer="a", who="A", when=NOON)
    path = tmp_path / "results" / "a.jsonl"
    path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    append(tmp_path, [reading(3, run=3)], writer="a", who="A", when=NOON)
    assert entries(tmp_path) == [reading(1), reading(2, run=2), reading(3, run=3)]


OLD_LINE = (  # as a journal of schema 1 held it
    '{"sequence": 1, "when": "2024-05-01T12:00:00.000000+00:00", "who": "A", "kind": "reading", '
    '"run": 1, "part": 1, "reading": 1, "outcome": "force", "text": "2.5", "value": 2.5, '
    '"unit": "N", "mark": 0, "previous": "' + "0" * 64 + '", "digest": '
    '"DIGEST"}\n'
)


def old_line():
    fields = json.loads(OLD_LINE)
    del fields["digest"]
    digest = hashlib.sha256(json.dumps(fields, sort_keys=True).encode()).hexdigest()
    return OLD_LINE.replace("DIGEST", digest)


def test_lines_of_the_first_schema_are_read_and_written_on_behind(tmp_path):
    (tmp_path / "results").mkdir()
    path = tmp_path / "results" / "a.jsonl"
    path.write_text(old_line(), encoding="utf-8")
    append(tmp_path, [reading(3, run=3)], writer="a", who="A", when=NOON)
    assert entries(tmp_path) == [reading(2.5), reading(3, run=3)]
    path.write_text(old_line().replace("2.5", "2.6"), encoding="utf-8")
    (tmp_path / "results" / "a.end").unlink()
    with pytest.raises(FileError, match=r"line 1: .*not what was written"):
        read_journal(tmp_path)


def test_a_line_of_a_newer_schema_is_refused_in_words(tmp_path):
    append(tmp_path, [reading(1)], writer="a", who="A", when=NOON)
    path = tmp_path / "results" / "a.jsonl"
    path.write_text(lines_of(tmp_path)[0].replace('"schema": 2', '"schema": 3'), encoding="utf-8")
    with pytest.raises(FileError, match=r"line 1: .*schema 3.*reads up to schema 2.*newer work"):
        read_journal(tmp_path)


@pytest.mark.parametrize("name", ["who", "text"])
def test_half_a_letter_is_refused_before_it_is_written(tmp_path, name):
    entry = replace(reading(1), text="\ud800") if name == "text" else reading(1)
    with pytest.raises(FileError, match="something that is no letter"):
        append(tmp_path, [entry], writer="a", who="\ud800" if name == "who" else "A")
    assert entries(tmp_path) == []


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
