"""The journal: nothing is lost, nothing is changed unseen."""

import hashlib
import json
from dataclasses import replace
from datetime import timedelta

import pytest
from journal_bench import NOON, entries, reading

from workbench.errors import FileError
from workbench.files.entries import (
    RunEntry,
)
from workbench.files.journal import append, read_journal


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
    path.write_text(lines_of(tmp_path)[0].replace('"schema": 2', '"schema": 4'), encoding="utf-8")
    with pytest.raises(FileError, match=r"line 1: .*schema 4.*reads up to schema 3.*newer work"):
        read_journal(tmp_path)


@pytest.mark.parametrize("name", ["who", "text"])
def test_half_a_letter_is_refused_before_it_is_written(tmp_path, name):
    entry = replace(reading(1), text="\ud800") if name == "text" else reading(1)
    with pytest.raises(FileError, match="something that is no letter"):
        append(tmp_path, [entry], writer="a", who="\ud800" if name == "who" else "A")
    assert entries(tmp_path) == []
