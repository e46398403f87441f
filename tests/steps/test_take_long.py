"""A long table becomes one entry, which says what its single entries would have said."""

import csv
import shutil

import numpy as np
import pytest

from workbench import files
from workbench.define import Categorical, Continuous, Graded, Measured, PassFail, Trial
from workbench.define.settings import settings as settings_of
from workbench.define.terms import preset
from workbench.files.table_entry import TableEntry
from workbench.files.table_json import receipt_of
from workbench.plan import Plan, Recipe
from workbench.steps.take import take_table
from workbench.steps.trials import open_trial

TRIAL = Trial(
    title="lid (invented)",
    question="?",
    factors=(
        Continuous(name="humidity", low=40, high=60, unit="%RH", setting_sd=1, slow=True),
        Categorical(name="tip", levels=("round", "chisel")),
    ),
    outcomes=(
        Measured(name="pull", unit="N"),
        PassFail(name="leak"),
        Graded(name="look", grades=("clean", "hazy")),
    ),
)
HEADINGS = (
    *("run", "block", "setup", "part", "status", "reason", "notes", "made at"),
    *("humidity as run (%RH)", "humidity reset?", "tip as run", "pull (N)", "leak", "look"),
)
FIRST = (
    (1, "A", 1, 1, "", "", "gap", "2026-04-20 14:05", 41, "", "round", "5.1", "pass", "clean"),
    (1, "A", 1, 2, "", "", "gap", "2026-04-20 14:05", 41, "", "round", "<0.2", "", "hazy"),
    (2, "A", 1, 1, "", "", "", "", 40, "no", "chisel", "8.3", "fail", ""),
    (3, "B", 2, 1, "excluded", "dropped", "", "", 60, "", "chisel", "", "", "clean"),
    (9, "B", 7, 1, "", "", "added", "", 55, "yes", "round", "6", "pass", "hazy"),
)
SECOND = (
    (1, "A", 1, 1, "", "misread", "", "", 42, "", "round", "5.2", "pass", "clean"),
    (2, "A", 1, 1, "", "", "", "", 40, "yes", "chisel", "8.3", "fail", "hazy"),
    (3, "B", 2, 1, "done", "found again", "", "", 60, "", "round", "7", "pass", "clean"),
    (4, "B", 2, 1, "failed", "lead broke", "", "", 58, "", "round", "", "", ""),
)


def plan():
    rows = [{"humidity": h, "tip": t} for h in (40, 60) for t in ("round", "chisel")]
    return Plan(
        settings=settings_of(TRIAL.factors, rows),
        block=np.ones(4, dtype=np.int64),
        setup=np.array([1, 1, 2, 2]),
        point=("factorial",) * 4,
        standard=np.arange(1, 5),
        parts_per_run=1,
        terms=preset("first-order", TRIAL.factors),
        recipe=Recipe(kind="full", options=(), seed=1, version="0"),
    )


@pytest.fixture(params=[True, False], ids=["planned", "no plan"])
def folder(tmp_path, request):
    place = tmp_path / "lid"
    files.write_trial(place, TRIAL)
    if request.param:
        files.write_plan(place, plan())
    return place


def take(folder, rows, name, **said):
    path = folder.parent / name
    with path.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream).writerows((HEADINGS, *rows))
    return take_table(folder, path, who="Mira", writer="mira", **said)


def told(folder):
    """Return all that the record of a folder holds, but for when it was entered."""
    record = open_trial(folder).record
    return {
        "runs": record.run.tolist(),
        "as run": np.nan_to_num(record.as_run.values, nan=-1).tolist(),
        "blocks": [record.block_labels[one] for one in record.block],
        "setups": record.setup.tolist(),
        "status": record.status,
        "reason": record.reason,
        "notes": record.notes,
        "resets": record.resets.tolist(),
        "made at": record.made_at,
        "readings": {
            name: np.column_stack([one.row, one.part, one.reading, one.value, one.mark]).tolist()
            for name, one in record.readings.items()
        },
        "corrections": {
            (one.run, one.thing, one.before, one.after, one.reason) for one in record.corrections
        },
    }


@pytest.mark.parametrize("said", [{}, {"reason": "typed wrong"}, {"settles": True}])
def test_one_entry_says_what_single_entries_say(folder, tmp_path, monkeypatch, said):
    other = tmp_path / "other"
    shutil.copytree(folder, other)
    single = [take(folder, FIRST, "first.csv"), take(folder, SECOND, "second.csv", **said)]
    monkeypatch.setattr("workbench.steps.take_entries.LONG", 0)
    whole = [take(other, FIRST, "first.csv"), take(other, SECOND, "second.csv", **said)]
    assert told(other) == told(folder)
    assert len(told(folder)["corrections"]) >= 3
    assert whole == single
    entries = [one.entry for one in files.read_journal(other).entries]
    assert [type(one) for one in entries] == [TableEntry, TableEntry]
    assert [receipt_of(one).source for one in entries] == ["first.csv", "second.csv"]


def test_a_long_table_that_says_nothing_new_adds_no_entry(folder, monkeypatch):
    monkeypatch.setattr("workbench.steps.take_entries.LONG", 0)
    take(folder, FIRST, "first.csv")
    take(folder, FIRST[:4], "part_of_it.csv")
    assert len(files.read_journal(folder).entries) == 1
