"""A table as one line of the journal says just what its runs and readings say entry by entry."""

import json
from datetime import timedelta

import numpy as np
import pytest
from journal_bench import NOON

from workbench.define import Categorical, Continuous, Graded, Measured, PassFail, Trial
from workbench.errors import FileError, RecordError
from workbench.files import journal_lines
from workbench.files.entries import ReadingEntry, ReceiptEntry, Reset, RunEntry, Setting
from workbench.files.journal import append, read_journal
from workbench.files.record_files import read_record
from workbench.files.results_csv import results_text
from workbench.files.table_json import WrongRowError, any_from_json, any_to_json
from workbench.files.table_singles import single_entries, tabled
from workbench.run.receipt import ReceiptLine

TRIAL = Trial(
    title="invented",
    question="?",
    factors=(
        Continuous(name="dwell", low=1, high=4, unit="s", setting_sd=0),
        Categorical(name="tip", levels=("round", "flat")),
    ),
    outcomes=(
        Measured(name="force", unit="N"),
        PassFail(name="wetted", passes="yes", fails="no"),
        Graded(name="whitening", grades=("none", "some", "much")),
    ),
)
RECEIPT = ReceiptEntry(
    source="table.csv",
    digest="0" * 64,
    n_rows=3,
    columns=("run",),
    lines=(ReceiptLine(where="table.csv", met="a mark", understood="a point"),),
)


def some_runs(rng, n, *, settles=False):
    """Return what might be said of some of n runs."""
    chosen = np.flatnonzero(rng.random(n) < 0.7) + 1
    return [
        RunEntry(
            run=int(run),
            block=str(rng.choice(["", "lot 7", "lot 8"])),
            blocked_by="lot",
            setup=int(run) // 3 if rng.random() < 0.5 else None,
            settings=(
                Setting(factor="dwell", value=float(rng.integers(1, 5)), unit="s"),
                Setting(factor="tip", value=str(rng.choice(["round", "flat"])), unit=""),
            )[: rng.integers(0, 3)],
            status=str(rng.choice(["", "done", "failed"])),
            reason=str(rng.choice(["", "cable touched"])),
            note=str(rng.choice(["", "warm day"])),
            resets=(Reset(factor="dwell", was_reset=bool(rng.integers(2))),)[: rng.integers(2)],
            made_at=str(rng.choice(["", "2024-05-01T12:00"])),
            settles=settles,
        )
        for run in chosen
    ]


def some_readings(rng, n, *, settles=False):
    """Return readings of every kind in some of n runs, two parts each."""
    highest = {"force": 100, "wetted": 2, "whitening": 3}
    found = []
    for outcome, most in highest.items():
        for run in range(1, n + 1):
            for part in (1, 2):
                value = int(rng.integers(most))
                if rng.random() < 0.6:
                    found.append(
                        ReadingEntry(
                            run=run,
                            part=part,
                            reading=1,
                            outcome=outcome,
                            text=str(value),
                            value=float(value),
                            unit="N" if outcome == "force" else "",
                            mark=int(rng.choice([-1, 0, 0, 1])) if outcome == "force" else 0,
                            reason=str(rng.choice(["", "typing error"])),
                            settles=settles,
                        )
                    )
    return found


def some(seed, n=12, *, settles=False):
    """Return runs and readings, each of which stands once."""
    rng = np.random.default_rng(seed)
    return [*some_runs(rng, n, settles=settles), *some_readings(rng, n, settles=settles)]


def by_place(entries):
    return sorted(map(repr, entries))


@pytest.mark.property
@pytest.mark.parametrize("seed", range(20))
def test_a_table_is_read_back_as_the_entries_it_was_made_of(seed):
    entries = some(seed)
    text = json.dumps(any_to_json(tabled(entries, receipt=RECEIPT)))
    found = any_from_json(json.loads(text))
    assert by_place(single_entries(found)) == by_place(entries)
    assert found.receipt == RECEIPT


def enter(folder, acts, *, as_tables):
    """Let writers enter their acts an hour after one another, as tables or entry by entry."""
    folder.mkdir()
    for hour, (writer, entries, settles) in enumerate(acts):
        lines = [tabled(entries, settles=settles)] if as_tables else entries
        append(folder, lines, writer=writer, who=writer, when=NOON + timedelta(hours=hour))
    return folder


@pytest.mark.property
@pytest.mark.parametrize("seed", range(12))
def test_tables_and_entries_make_one_record(seed, tmp_path):
    """Whoever enters, corrects, contradicts or settles: the record does not tell how it stands."""
    acts = [
        ("mira", some(seed), False),
        ("bo", some(seed + 100, n=6), False),
        ("mira", some(seed + 200, n=8), False),
        ("bo", some(seed + 300, n=15, settles=True), True),
    ][: 1 + seed % 4]
    stands = seed % 4 > 0  # the two writers differ, which is refused unless the last stands
    found = [
        read_record(
            enter(tmp_path / name, acts, as_tables=as_tables), TRIAL, None, last_stands=stands
        )
        for name, as_tables in (("entries", False), ("tables", True))
    ]
    assert results_text(found[0]) == results_text(found[1])
    assert by_place(found[0].corrections) == by_place(found[1].corrections)
    assert found[0].entered == found[1].entered
    assert found[0].notes == found[1].notes


def test_what_two_tables_say_otherwise_is_refused(tmp_path):
    acts = [("mira", some(1), False), ("bo", some(2), False)]
    with pytest.raises(RecordError, match=r"mira \(mira\) entered") as by_tables:
        read_record(enter(tmp_path / "tables", acts, as_tables=True), TRIAL, None)
    with pytest.raises(RecordError) as by_entries:
        read_record(enter(tmp_path / "entries", acts, as_tables=False), TRIAL, None)
    assert by_tables.value.next_step == by_entries.value.next_step


def test_five_thousand_rows_make_the_same_results_to_the_byte(tmp_path):
    rng = np.random.default_rng(5)
    entries = [*some_runs(rng, 5_000), *some_readings(rng, 5_000)]
    acts = [("mira", entries, False)]
    texts = [
        results_text(read_record(enter(tmp_path / name, acts, as_tables=one), TRIAL, None))
        for name, one in (("entries", False), ("tables", True))
    ]
    assert len(texts[0].splitlines()) > 5_000
    assert texts[0].encode() == texts[1].encode()


WRONG = [
    (("runs", "run", 1), "two", "run, row 2"),
    (("runs", "run", 1), 1, "run, row 2"),
    (("runs", "run", 2), 2_000_000, "run, row 3"),
    (("runs", "run", 2), True, "run, row 3"),
    (("runs", "status", 2), 7, "status, row 3"),
    (("runs", "setup", 1), 0.5, "setup, row 2"),
    (("runs", "settings", "dwell", "values", 1), float("nan"), "settings of dwell, row 2"),
    (("runs", "settings", "dwell", "values", 1), float("inf"), "settings of dwell, row 2"),
    (("runs", "settings", "dwell", "values", 2), "long", "settings of dwell, row 3"),
    (("runs", "resets", "dwell", 0), "yes", "resets of dwell, row 1"),
    (("readings", "part", 1), None, "run, part and reading, row 2"),
    (("readings", "run", 2), 1, "run, part and reading, row 3"),
    (("readings", "outcomes", "force", "values", 1), float("nan"), "readings of force, row 3"),
    (("readings", "outcomes", "force", "values", 1), None, "readings of force, row 3"),
    (("readings", "outcomes", "force", "marks", 0), 2, "readings of force, row 1"),
    (("readings", "outcomes", "force", "texts", 1), 4, "readings of force, row 3"),
]


def small_table():
    runs = [
        RunEntry(
            run=run,
            setup=run,
            status="failed",
            settings=(Setting(factor="dwell", value=value, unit="s"),),
            resets=(Reset(factor="dwell", was_reset=True),),
        )
        for run, value in ((1, 2.0), (2, None), (3, 2.5))
    ]
    readings = [
        ReadingEntry(
            run=run, part=1, reading=1, outcome=name, text="1", value=1.0, unit="", mark=mark
        )
        for run, name, mark in ((1, "force", 1), (2, "wetted", 0), (3, "force", 0))
    ]
    return tabled([*runs, *readings])


@pytest.mark.parametrize(("path", "value", "place"), WRONG)
def test_what_no_single_entry_may_hold_no_row_may(path, value, place):
    fields = json.loads(json.dumps(any_to_json(small_table())))
    within = fields
    for key in path[:-1]:
        within = within[key]
    within[path[-1]] = value
    with pytest.raises(WrongRowError, match=f"^{place}$"):
        any_from_json(fields)


def test_a_column_of_another_length_is_no_table():
    fields = json.loads(json.dumps(any_to_json(small_table())))
    fields["readings"]["outcomes"]["force"]["values"].append(1.0)
    with pytest.raises(ValueError, match="as many as there are rows"):
        any_from_json(fields)


def test_line_and_row_of_what_is_wrong_are_said(tmp_path, monkeypatch):
    right = any_to_json(small_table())
    right["runs"]["run"] = (1, 1, 3)
    monkeypatch.setattr(journal_lines, "any_to_json", lambda _: right)
    append(tmp_path, [small_table()], writer="a", who="A", when=NOON)
    with pytest.raises(FileError, match=r"a\.jsonl, line 1, run, row 2"):
        read_journal(tmp_path)


@pytest.mark.parametrize("keep", [1, 30, 200, 600])
def test_a_table_that_breaks_off_is_left_out_whole_and_said(tmp_path, keep):
    append(tmp_path, [RunEntry(run=9)], writer="a", who="A", when=NOON)
    path, end = (tmp_path / "results" / name for name in ("a.jsonl", "a.end"))
    before, noted = path.read_bytes(), end.read_bytes()
    append(tmp_path, [small_table()], writer="a", who="A", when=NOON)
    path.write_bytes(path.read_bytes()[: len(before) + keep])
    end.write_bytes(noted)
    found = read_journal(tmp_path)
    assert [one.entry for one in found.entries] == [RunEntry(run=9)]
    assert "line 2 breaks off" in found.notes[0]
    append(tmp_path, [small_table()], writer="a", who="A", when=NOON)
    assert len(read_journal(tmp_path).entries) == 2


@pytest.mark.parametrize("at", [0.2, 0.5, 0.9])
def test_one_changed_digit_in_a_table_is_noticed(tmp_path, at):
    append(tmp_path, [tabled(some(3))], writer="a", who="A", when=NOON)
    path = tmp_path / "results" / "a.jsonl"
    data = bytearray(path.read_bytes())
    place = next(i for i in range(int(at * len(data)), len(data)) if chr(data[i]).isdigit())
    data[place] = ord("1") if data[place] != ord("1") else ord("2")
    path.write_bytes(data)
    with pytest.raises(FileError, match="not what was written"):
        read_journal(tmp_path)


def test_a_table_too_long_for_a_line_is_written_in_several(tmp_path, monkeypatch):
    monkeypatch.setattr(journal_lines, "MOST_LINE", 1_500)
    entries = some(4)
    made = append(tmp_path, [tabled(entries, receipt=RECEIPT)], writer="a", who="A", when=NOON)
    assert len(made) > 1
    assert [one.sequence for one in made] == list(range(1, len(made) + 1))
    found = [one.entry for one in read_journal(tmp_path).entries]
    assert by_place(single for one in found for single in single_entries(one)) == by_place(entries)
    assert [one.receipt for one in found] == [None] * (len(found) - 1) + [RECEIPT]


def test_a_line_beyond_the_limit_is_refused_by_its_size(tmp_path, monkeypatch):
    append(tmp_path, [tabled(some(4))], writer="a", who="A", when=NOON)
    monkeypatch.setattr("workbench.files.journal_files.MOST_LINE", 1_000)
    with pytest.raises(FileError, match=r"line 1: .*more than \d+ MB"):
        read_journal(tmp_path)
