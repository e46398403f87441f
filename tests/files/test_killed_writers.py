"""A short version of the studies of killed writers and of two writers at once."""

import os
import runpy
import time
from pathlib import Path

import pytest

from workbench.files import append, read_journal
from workbench.files.entries import ReadingEntry

STUDIES = Path(__file__).parents[1] / "studies"
NEEDS_FORK = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")


@NEEDS_FORK
def test_every_acknowledged_entry_outlives_its_writer(tmp_path):
    study = runpy.run_path(str(STUDIES / "killed_writers.py"))["study"]
    tally = study(40, 7, folder=tmp_path)
    assert tally.kills == 40
    assert tally.acknowledged > 0


@NEEDS_FORK
@pytest.mark.parametrize("writers", [("a", "b"), ("a", "a")], ids=["two files", "one file"])
def test_two_programs_at_once_lose_and_double_nothing(tmp_path, writers):
    entered_at_once = runpy.run_path(str(STUDIES / "two_writers.py"))["entered_at_once"]
    expected = list(range(1, 101))
    assert entered_at_once(tmp_path, 200, writers) == {0: expected, 1: expected}
    assert read_journal(tmp_path).notes == ()


def test_ten_thousand_entries_open_in_a_second(tmp_path):
    some = [
        ReadingEntry(
            run=i, part=1, reading=1, outcome="force", text=f"{i / 8}", value=i / 8, unit="N"
        )
        for i in range(1, 10_001)
    ]
    append(tmp_path, some, writer="a", who="A")
    start = time.process_time()  # of this program alone, so that a busy machine fails nobody
    assert len(read_journal(tmp_path).entries) == 10_000
    assert time.process_time() - start < 1.0
