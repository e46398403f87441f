"""The record made of a journal: resets, corrections, files, times, speed."""

import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from workbench.define.factors import Categorical, Continuous
from workbench.define.outcomes import Measured, PassFail
from workbench.define.trial import Trial
from workbench.files import append, read_record
from workbench.files.attached_files import attached_file
from workbench.files.entries import (
    ReadingEntry,
    Reset,
    RunEntry,
    Setting,
    entry_from_json,
    entry_to_json,
)
from workbench.run import FileState, Kind, findings

NOON = datetime(2026, 3, 9, 12, tzinfo=UTC)
TRIAL = Trial(
    title="lid (invented)",
    question="",
    factors=(
        Continuous(name="humidity", low=40, high=60, unit="%RH", setting_sd=1, slow=True),
        Categorical(name="tip", levels=("round", "chisel")),
    ),
    outcomes=(Measured(name="pull", unit="N"), PassFail(name="tight")),
)


def run(number, humidity=40.0, **more):
    settings = (
        Setting(factor="humidity", value=humidity, unit="%RH"),
        Setting(factor="tip", value="round", unit=""),
    )
    return RunEntry(run=number, settings=settings, **more)


def reading(number, value, **more):
    return ReadingEntry(
        run=number,
        part=1,
        reading=1,
        outcome="pull",
        text=f"{value}",
        value=value,
        unit=more.pop("unit", "N"),
        **more,
    )


def enter(folder, entries, *, writer="bench", minutes=0):
    moment = NOON + timedelta(minutes=minutes)
    append(folder, entries, writer=writer, who="Åsa", when=moment)


def test_an_old_entry_says_nothing_of_what_is_new():
    entry = entry_from_json(
        {"kind": "run", "run": 3, "settings": {"tip": {"value": "round", "unit": ""}}}
    )
    assert (entry.resets, entry.attachments, entry.made_at) == ((), (), "")
    assert entry.settings[0].reason == ""
    assert set(entry_to_json(RunEntry(run=3))) == {"kind", "run"}


def test_what_is_new_goes_there_and_back():
    entry = run(
        2, resets=(Reset(factor="humidity", was_reset=False),), made_at="2026-03-09T08:30:00"
    )
    entry = replace(entry, settings=(replace(entry.settings[0], reason="misread"),))
    assert entry_from_json(entry_to_json(entry)) == entry
    corrected = reading(2, 4.4, reason="decimal point")
    assert entry_from_json(entry_to_json(corrected)) == corrected
    with pytest.raises(TypeError):
        entry_from_json({"kind": "run", "run": 1, "resets": {"tip": "maybe"}})


def test_resets_stand_by_run_and_factor(tmp_path):
    enter(tmp_path, [run(1), run(2, resets=(Reset(factor="humidity", was_reset=False),))])
    enter(tmp_path, [run(3, resets=(Reset(factor="humidity", was_reset=True),))], minutes=1)
    record = read_record(tmp_path, TRIAL, None)
    assert record.resets.tolist() == [[-1, -1], [0, -1], [1, -1]]


def test_a_correction_is_told_with_who_when_and_why(tmp_path):
    enter(tmp_path, [run(1), reading(1, 44.0), reading(2, 5.0), run(2)])
    enter(tmp_path, [reading(1, 4.4, reason="decimal point"), reading(2, 5.0)], minutes=5)
    changed = run(2, humidity=41.0)
    settings = (replace(changed.settings[0], reason="log of the chamber"), changed.settings[1])
    enter(tmp_path, [replace(changed, settings=settings)], minutes=6)
    record = read_record(tmp_path, TRIAL, None)
    first, second = record.corrections
    assert (first.run, first.before, first.after, first.who, first.reason) == (
        1,
        "44 N",
        "4.4 N",
        "Åsa",
        "decimal point",
    )
    assert (second.about, second.before, second.after) == ("humidity", "40", "41")
    assert second.reason == "log of the chamber"
    told = [one for one in findings(record) if one.kind is Kind.CORRECTED]
    assert len(told) == 2


def test_what_two_writers_agree_on_is_no_correction(tmp_path):
    enter(tmp_path, [run(1), reading(1, 4.4)])
    enter(tmp_path, [reading(1, 4.4)], writer="office", minutes=1)
    assert read_record(tmp_path, TRIAL, None).corrections == ()


def test_files_are_looked_at_on_reading(tmp_path):
    (tmp_path / "photo.jpg").write_bytes(b"picture")
    photo = attached_file(tmp_path, "photo.jpg", note="corner")
    enter(tmp_path, [run(1, attachments=(photo,)), reading(1, 4.4)])
    (found,) = read_record(tmp_path, TRIAL, None).attachments
    assert (found.run, found.path, found.note) == (1, "photo.jpg", "corner")
    assert found.state is FileState.UNCHANGED
    (tmp_path / "photo.jpg").unlink()
    record = read_record(tmp_path, TRIAL, None)
    assert [one.kind for one in findings(record) if one.kind is Kind.FILE_GONE]


def test_times_are_those_of_the_bench_and_of_the_first_entry(tmp_path):
    enter(tmp_path, [run(1, made_at="2026-03-09T08:30:00"), run(2)])
    enter(tmp_path, [reading(1, 4.4), RunEntry(run=2, block="K2")], minutes=9)
    record = read_record(tmp_path, TRIAL, None)
    assert record.made_at == ("2026-03-09T08:30:00", "")
    assert all(one.startswith("2026-03-09T12:00") for one in record.entered)


def test_ten_thousand_entries_are_read_quickly(tmp_path):
    rng = np.random.default_rng(1)
    entries = [run(i, humidity=40.0 + 20 * (i % 2)) for i in range(1, 2001)]
    entries += [
        replace(reading(i, float(value)), part=part)
        for part in range(1, 5)
        for i, value in enumerate(rng.normal(5, 1, 2000), start=1)
    ]
    enter(tmp_path, entries)
    started = time.process_time()
    record = read_record(tmp_path, TRIAL, None)
    assert len(record.readings["pull"]) == 8000
    assert time.process_time() - started < 5  # about 0.5 s alone; loose for a busy machine
    started = time.process_time()
    findings(record)
    assert time.process_time() - started < 3  # about 0.1 s alone
