"""An export is whole, tidy, guarded, and comes back to the same values."""

import csv
import io
import os
import shutil
import subprocess

import invented_bond as bond
import numpy as np
import pandas as pd
import pytest

from workbench import files
from workbench.errors import FileError
from workbench.files.tidy_csv import READING
from workbench.run.record import Status
from workbench.steps.adopt import adopt
from workbench.steps.adopt_options import AdoptOptions, FactorWish, OutcomeWish
from workbench.steps.exporting import export_trial
from workbench.steps.take import take_table
from workbench.steps.trials import open_trial

FILLED = (
    "run,block,bead volume as run (mm³),activator as run,humidity as run (%RH),part,"
    '"peel force (N)",leak (mm³/s),tight,look,voids (voids),status,reason,notes\n'
    "1,lot 7,260.5,none,45,1,69.5,1e-05,yes,clean,0,,,=1+1\n"
    "1,lot 7,260.5,none,45,2,>250,0.25,no,'+white,3,,,=1+1\n"
    "2,lot 7,,'=misted,45.5,1,<0.5,0.125,yes,hazy,12,,,\n"
    "3,lot 8,439,none,46,1,12,2,yes,clean,1,excluded,'=dropped,\n"
    "4,lot 8,,,44,1,,,,,,failed,-cracked,late\n"
)


@pytest.fixture
def folder(tmp_path):
    place = tmp_path / "bond"
    place.mkdir()
    files.write_trial(place, bond.TRIAL)
    files.write_plan(place, bond.plan())
    table = tmp_path / "filled.csv"
    table.write_text(FILLED, encoding="utf-8")
    take_table(place, table, who="Mira")
    return place


def same(one, other):
    np.testing.assert_array_equal(one.run, other.run)
    np.testing.assert_array_equal(one.as_run.values, other.as_run.values)
    assert (one.status, one.reason) == (other.status, other.reason)
    assert [one.block_labels[b] for b in one.block] == [other.block_labels[b] for b in other.block]
    for name, readings in one.readings.items():
        for field in ("row", "part", "reading", "value", "mark"):
            np.testing.assert_array_equal(
                getattr(readings, field), getattr(other.readings[name], field), err_msg=name
            )


def test_one_row_a_reading_with_all_that_is_known_of_it(folder):
    made = export_trial(folder)
    table = pd.read_csv(made.folder / "readings.csv", encoding="utf-8-sig", keep_default_na=False)
    assert tuple(table.columns)[-len(READING) :] == READING
    assert len(table) == made.n_rows
    pull = table[(table["run"] == 1) & (table["outcome"] == "peel force")]
    assert list(pull["value"]) == ["69.5", "250"]
    assert list(pull["mark"]) == ["", "above"]
    assert list(pull["shown"]) == ["69.5", ">250.0"]
    assert set(pull["who"]) == {"Mira"}
    assert set(pull["bead volume planned (mm³)"]) == {260}
    assert set(pull["bead volume as run (mm³)"]) == {260.5}
    failed = table[table["run"] == 4]
    assert len(failed) == len(bond.TRIAL.outcomes)
    assert set(failed["value"]) == {""}
    assert set(failed["status"]) == {Status.FAILED.value}


def test_the_tables_are_plain_csv(folder):
    made = export_trial(folder)
    data = (made.folder / "readings.csv").read_bytes()
    assert data.startswith(b"\xef\xbb\xbf")
    assert data.count(b"\r\n") == data.count(b"\n")
    rows = list(csv.reader(io.StringIO(data.decode("utf-8-sig"), newline=""), strict=True))
    assert {len(row) for row in rows} == {len(made.columns)}


def test_taken_back_into_its_plan_it_gives_the_same_record(folder, tmp_path):
    made = export_trial(folder)
    other = tmp_path / "other"
    other.mkdir()
    for name in ("trial.toml", "plan.csv", "plan.toml"):
        shutil.copy(folder / name, other / name)
    take_table(other, made.folder / "runs.csv", who="Tomas")
    before, after = open_trial(folder).record, open_trial(other).record
    same(before, after)
    assert after.reason[2:] == ("=dropped", "-cracked")
    again = export_trial(other)
    for name in ("runs.csv", "dictionary.csv", "plan.csv"):
        assert (again.folder / name).read_bytes() == (made.folder / name).read_bytes()


def test_adopted_it_gives_the_same_numbers(folder, tmp_path):
    made = export_trial(folder)
    names = ("bead volume as run", "activator as run", "humidity as run")
    options = AdoptOptions(
        outcomes=(
            OutcomeWish(name="leak", unit="mm³/s"),
            OutcomeWish(name="voids (voids)", kind="counted"),
        ),
        factors=tuple(FactorWish(name=name) for name in names),
        ignore=("bead volume", "activator", "peel force", "tight", "look", "notes"),
        run="run",
        part="part",
        reading="reading",
        who="Mira",
    )
    adopted = adopt(made.folder / "runs.csv", tmp_path / "adopted", options)
    before, after = open_trial(folder).record, open_trial(adopted.folder).record
    np.testing.assert_array_equal(after.readings["leak"].value, before.readings["leak"].value)
    np.testing.assert_array_equal(
        after.readings["voids (voids)"].value, before.readings["voids"].value
    )
    assert after.as_run.column(names[0])[0] == 260.5


def test_the_dictionary_has_a_line_for_every_column(folder):
    made = export_trial(folder)
    lines = pd.read_csv(
        made.folder / "dictionary.csv", encoding="utf-8-sig", dtype=str, keep_default_na=False
    )
    for name in ("readings.csv", "runs.csv"):
        columns = pd.read_csv(made.folder / name, encoding="utf-8-sig", dtype=str).columns
        assert set(columns) <= set(lines[lines["file"] == name]["column"])
    peel = lines[(lines["file"] == "runs.csv") & (lines["column"] == "peel force (N)")].iloc[0]
    assert (peel["kind"], peel["unit"]) == ("number", "N")
    assert peel["allowed"] == "gauge reads from 0.5; gauge reads up to 250"
    assert peel["how read"] == "after 72 h"


def test_the_sums_are_those_that_the_usual_program_checks(folder):
    made = export_trial(folder)
    program = shutil.which("sha256sum")
    if program is None:
        pytest.skip("no sha256sum here")
    done = subprocess.run(
        [program, "--check", "--strict", "SHA256SUMS"], cwd=made.folder, check=False
    )
    assert done.returncode == 0


def test_an_export_is_replaced_but_nothing_else(folder):
    made = export_trial(folder)
    before = (made.folder / "readings.csv").read_bytes()
    assert export_trial(folder).n_rows == made.n_rows
    assert (made.folder / "readings.csv").read_bytes() == before
    (made.folder / "mine.txt").write_text("mine")
    with pytest.raises(FileError, match=r"mine\.txt in it was not written by an export"):
        export_trial(folder)
    (made.folder / "mine.txt").unlink()
    (made.folder / "runs.csv").write_text("mine")
    with pytest.raises(FileError, match=r"runs\.csv in it was changed"):
        export_trial(folder)
    assert (made.folder / "runs.csv").read_text() == "mine"


def test_a_failure_leaves_the_old_export_and_no_litter(folder, monkeypatch):
    made = export_trial(folder)
    before = {path.name: path.read_bytes() for path in made.folder.iterdir()}

    def full(_handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(FileError, match="No space left on device"):
        export_trial(folder)
    assert {path.name: path.read_bytes() for path in made.folder.iterdir()} == before
    assert not [one for one in folder.iterdir() if one.name.startswith(".")]
