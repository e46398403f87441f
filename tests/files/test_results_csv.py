"""results.csv: rebuilt from the journal, never over what a hand has changed."""

import hashlib
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from workbench.define import Continuous, Measured, Trial
from workbench.errors import FileError
from workbench.files import append, check_results_untouched, read_record, write_results
from workbench.files.atomic import write_text_atomically
from workbench.files.entries import ReadingEntry
from workbench.files.results_csv import DIGEST, results_text

NOON = datetime(2024, 5, 1, 12, tzinfo=UTC)
TRIAL = Trial(
    title="made up",
    question="?",
    factors=(Continuous(name="dwell", low=1, high=4, unit="s", setting_sd=0),),
    outcomes=(Measured(name="force", unit="N"), Measured(name="gap", unit="mm")),
)


def reading(run, value, *, part=1, outcome="force"):
    return ReadingEntry(
        run=run, part=part, reading=1, outcome=outcome, text=f"{value}", value=value, unit=""
    )


@pytest.fixture
def folder(tmp_path):
    some = [
        reading(1, 1.5),
        reading(2, 2.5),
        reading(2, 3.5, part=2),
        reading(2, 0.25, outcome="gap"),
    ]
    append(tmp_path, some, writer="a", who="A", when=NOON)
    write_results(tmp_path, record(tmp_path))
    return tmp_path


def record(folder):
    return read_record(folder, TRIAL, None)


def test_it_has_a_row_a_run_part_and_reading(folder):
    rows = (folder / "results.csv").read_text("utf-8-sig").splitlines()
    assert rows[0].startswith("run,block,setup,part,reading,dwell as run (s),force (N),gap (mm)")
    assert [row.split(",")[:5] + row.split(",")[6:8] for row in rows[1:]] == [
        ["1", "1", "1", "1", "1", "1.5", ""],
        ["2", "1", "2", "1", "1", "2.5", "0.25"],
        ["2", "1", "2", "2", "1", "3.5", ""],
    ]


def test_it_is_made_again_from_the_journal_alone(folder):
    before = (folder / "results.csv").read_bytes()
    (folder / "results.csv").unlink()
    (folder / DIGEST).unlink()
    write_results(folder, record(folder))
    assert (folder / "results.csv").read_bytes() == before


def edit(folder):
    path = folder / "results.csv"
    path.write_bytes(path.read_bytes().replace(b"2.5", b"2.6"))
    return path.read_bytes()


def test_a_hand_edited_table_is_noticed_kept_and_offered_as_an_import(folder):
    edited = edit(folder)
    offered = r"changed by hand.*journal does not hold them.*workbench take .*results\.csv"
    with pytest.raises(FileError, match=offered):
        check_results_untouched(folder)
    with pytest.raises(FileError, match=offered):
        write_results(folder, record(folder))
    assert (folder / "results.csv").read_bytes() == edited


def test_edits_that_were_taken_in_are_written_over_but_not_later_ones(folder):
    taken = hashlib.sha256(edit(folder)).hexdigest()
    path = folder / "results.csv"
    path.write_bytes(path.read_bytes() + b"# saved once more\n")
    with pytest.raises(FileError, match="changed by hand"):
        write_results(folder, record(folder), taken=taken)
    taken = hashlib.sha256(path.read_bytes()).hexdigest()
    write_results(folder, record(folder), taken=taken)
    check_results_untouched(folder)
    assert b"saved once more" not in path.read_bytes()


def test_writing_the_same_again_changes_no_file(folder):
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    write_results(folder, record(folder))
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before


@pytest.mark.parametrize("moment", ["before the table", "after the table"])
def test_a_program_stopped_while_writing_leaves_a_table_that_is_known(folder, monkeypatch, moment):
    append(folder, [reading(3, 9.0)], writer="a", who="A", when=NOON)

    def stopped(path, text):
        if moment == "after the table":
            write_text_atomically(path, text)
        raise KeyboardInterrupt

    monkeypatch.setattr("workbench.files.results_csv.write_text_atomically", stopped)
    with pytest.raises(KeyboardInterrupt):
        write_results(folder, record(folder))
    monkeypatch.undo()
    check_results_untouched(folder)
    write_results(folder, record(folder))
    assert (folder / "results.csv").read_text("utf-8") == results_text(record(folder))


def test_a_table_held_open_elsewhere_is_said_and_loses_nothing(folder, monkeypatch):
    before = (folder / "results.csv").read_bytes()
    append(folder, [reading(3, 9.0)], writer="a", who="A", when=NOON)
    monkeypatch.setattr("workbench.files.atomic.PAUSES", ())

    def held(self, target):
        if target.name == "results.csv":  # as Windows says it of a file open in a program
            raise PermissionError(13, "Access is denied")
        return real(self, target)

    real = Path.replace
    monkeypatch.setattr(Path, "replace", held)
    with pytest.raises(FileError, match=r"holds it open.*journal holds them all.*Close results"):
        write_results(folder, record(folder))
    assert (folder / "results.csv").read_bytes() == before
    assert record(folder).readings["force"].value.tolist() == [1.5, 2.5, 3.5, 9.0]
    monkeypatch.undo()
    write_results(folder, record(folder))
    assert b"9" in (folder / "results.csv").read_bytes()


def test_a_table_that_cannot_be_read_is_said(folder):
    (folder / "results.csv").unlink()
    (folder / "results.csv").mkdir()
    with pytest.raises(FileError, match="cannot be read"):
        check_results_untouched(folder)
    with pytest.raises(FileError, match="cannot be written"):
        write_results(folder, record(folder))


def test_a_table_of_an_older_workbench_is_known(folder):
    digest = hashlib.sha256((folder / "results.csv").read_bytes()).hexdigest()
    (folder / DIGEST).write_text(digest + "\n", "ascii")
    check_results_untouched(folder)
    (folder / DIGEST).write_bytes(b"\xff\xfe")
    with pytest.raises(FileError, match="changed by hand"):
        check_results_untouched(folder)


def test_many_rows_are_shown_in_order(tmp_path):
    runs = np.random.default_rng(3).permutation(300) + 1
    some = [reading(int(run), float(run), part=part) for run in runs for part in (2, 1)]
    append(tmp_path, some, writer="a", who="A", when=NOON)
    rows = results_text(record(tmp_path)).splitlines()[1:]
    shown = [row.split(",") for row in rows]
    places = [(int(cells[0]), int(cells[3])) for cells in shown]
    assert places == sorted(places)
    assert len(places) == 600
    assert all(float(cells[6]) == int(cells[0]) for cells in shown)
