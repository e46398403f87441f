"""The journal: nothing is lost, nothing is changed unseen."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.errors import FileError
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


def test_a_torn_last_line_is_left_out_and_said_and_written_on_behind(tmp_path):
    append(tmp_path, [reading(1)], writer="a", who="A", when=NOON)
    append(tmp_path, [reading(2, run=2)], writer="a", who="A", when=NOON)
    path = tmp_path / "results" / "a.jsonl"
    path.write_bytes(path.read_bytes()[:-30])
    journal = read_journal(tmp_path)
    assert [one.entry for one in journal.entries] == [reading(1)]
    assert "line 2 breaks off" in journal.notes[0]
    append(tmp_path, [reading(3, run=3)], writer="a", who="A", when=NOON)
    assert entries(tmp_path) == [reading(1), reading(3, run=3)]
    assert "line 2 breaks off" in read_journal(tmp_path).notes[0]


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
        (lambda lines: [lines[0], "garbage\n", "more\n", *lines[1:]], 3),
        (lambda lines: [*lines[:2], "garbage\n"], 3),
    ],
    ids=["changed", "taken out", "moved", "doubled", "two bad lines", "bad last line"],
)
def test_a_changed_past_is_noticed_with_its_line(tmp_path, change, line):
    append(tmp_path, [reading(float(i), run=i) for i in (1, 2, 3)], writer="a", who="A", when=NOON)
    changed = "".join(change(lines_of(tmp_path)))
    (tmp_path / "results" / "a.jsonl").write_text(changed, encoding="utf-8")
    with pytest.raises(FileError, match=rf"a\.jsonl, line {line}: .*not what was written"):
        read_journal(tmp_path)
    with pytest.raises(FileError, match="not what was written"):
        append(tmp_path, [reading(4.0)], writer="a", who="A", when=NOON)


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
