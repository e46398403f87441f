"""Results taken back: all or nothing, never twice, never over what somebody else entered."""

import csv

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench import files
from workbench.define.factors import Categorical, Continuous, Role
from workbench.define.outcomes import Counted, Graded, Measured, PassFail
from workbench.define.settings import settings as settings_of
from workbench.define.terms import preset
from workbench.define.trial import Budget, Trial
from workbench.errors import FileError, RecordError, WorkbenchError
from workbench.plan.plans import Plan, Recipe
from workbench.run.record import Status
from workbench.steps.take import take_table

FACTORS = (
    Continuous(name="bead volume", low=260, high=440, unit="mm³", setting_sd=3),
    Categorical(name="activator", levels=("none", "=misted")),
    Continuous(name="humidity", low=20, high=80, unit="%RH", setting_sd=0, role=Role.OBSERVED),
)
TRIAL = Trial(
    title="bond (invented)",
    question="",
    factors=FACTORS,
    outcomes=(
        Measured(name="peel force", unit="N"),
        PassFail(name="leak"),
        Graded(name="look", grades=("clean", "hazy", "white")),
        Counted(name="voids", unit="voids"),
    ),
    budget=Budget(parts_per_run=2),
)


def plan():
    rows = [
        {"bead volume": volume, "activator": level}
        for volume in (260, 440)
        for level in ("none", "=misted")
    ]
    return Plan(
        settings=settings_of(TRIAL.planned_factors, rows),
        block=np.array([1, 1, 2, 2]),
        setup=np.arange(1, 5),
        point=("factorial",) * 4,
        standard=np.arange(1, 5),
        parts_per_run=2,
        terms=preset("first-order", TRIAL.planned_factors),
        recipe=Recipe(kind="full", options=(), seed=1, version="0"),
    )


@pytest.fixture
def folder(tmp_path):
    place = tmp_path / "bond"
    files.write_trial(place, TRIAL)
    files.write_plan(place, plan())
    files.write_sheet_csv(place, TRIAL, plan())
    return place


def sheet_rows(folder):
    with (folder / "run_sheet.csv").open(encoding="utf-8-sig", newline="") as stream:
        return list(csv.DictReader(stream))


def fill(folder, changes, name="filled.csv"):
    """Write the run sheet with cells filled in: {(run, heading): text}."""
    rows = sheet_rows(folder)
    for (number, heading), text in changes.items():
        assert heading in rows[0], heading
        rows[number - 1][heading] = text
    path = folder.parent / name
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    return path


def record(folder):
    return files.read_record(folder, TRIAL, files.read_plan(folder, TRIAL))


def journal_bytes(folder):
    return {path.name: path.read_bytes() for path in (folder / "results").glob("*.jsonl")}


FORCE = "peel force (N), part 1"


def test_a_filled_in_sheet(folder):
    table = fill(
        folder,
        {
            (1, FORCE): "12,5 N",
            (1, "peel force (N), part 2"): ">20",
            (1, "bead volume as run (mm³)"): "0.262 cm3",
            (1, "humidity as run (%RH)"): "45",
            (1, "leak, part 1"): "PASS",
            (1, "look, part 1"): "hazy",
            (1, "voids (voids), part 1"): "3",
            (2, FORCE): "9",
            (2, "status"): "excluded",
            (2, "reason"): "dropped",
            (3, "notes"): "=cmd|' /c calc'!A1",
        },
    )
    receipt = take_table(folder, table, who="Åsa")
    found = record(folder)
    assert found.status == (Status.DONE, Status.EXCLUDED, Status.DONE, Status.MISSING)
    assert found.reason[1] == "dropped"
    assert found.as_run.column("bead volume").tolist()[:2] == [262, 260]
    assert found.as_run.column("activator").tolist()[:2] == [0, 1]
    assert found.as_run.column("humidity")[0] == 45
    assert np.isnan(found.as_run.values[3]).all()
    force = found.readings["peel force"]
    assert force.value.tolist() == [12.5, 20, 9]
    assert force.mark.tolist() == [0, 1, 0]
    assert force.part.tolist() == [1, 2, 1]
    assert found.readings["leak"].value.tolist() == [1]
    assert found.readings["look"].value.tolist() == [1]
    assert found.readings["voids"].value.tolist() == [3]
    assert found.block_labels == ("1", "2")
    assert receipt.lines[-1].understood == "6 are new, 0 were recorded before"
    assert any("decimal comma" in line.understood for line in receipt.lines)
    assert any("cm³" in line.met and "mm³" in line.understood for line in receipt.lines)


def test_a_lot_written_down_beforehand_makes_no_run(folder):
    take_table(folder, fill(folder, {(1, FORCE): "12", (3, "block"): "lot C"}), who="Åsa")
    missing = (Status.MISSING,) * 3
    assert record(folder).status == (Status.DONE, *missing)


def test_the_same_file_twice_adds_nothing(folder):
    table = fill(folder, {(1, FORCE): "12"})
    take_table(folder, table, who="Åsa")
    before = journal_bytes(folder)
    receipt = take_table(folder, table, who="Åsa")
    assert receipt.lines[-1].understood == "nothing new is added"
    again = take_table(folder, folder / "results.csv", who="Bo")
    assert again.lines[-1].understood.endswith("nothing new is added")
    assert journal_bytes(folder) == before


def test_a_growing_sheet_adds_only_what_is_new(folder):
    take_table(folder, fill(folder, {(1, FORCE): "12"}), who="Åsa")
    receipt = take_table(folder, fill(folder, {(1, FORCE): "12", (2, FORCE): "13"}), who="Bo")
    assert receipt.lines[-1].understood == "1 are new, 1 were recorded before"
    assert record(folder).readings["peel force"].value.tolist() == [12, 13]


def test_a_correction_is_a_new_entry_and_is_said(folder):
    take_table(folder, fill(folder, {(1, FORCE): "12"}), who="Åsa")
    receipt = take_table(folder, fill(folder, {(1, FORCE): "13"}), who="Åsa")
    (line,) = [one for one in receipt.lines if "correction" in one.understood]
    assert "13, before 12" in line.met
    assert not line.sure
    values = [
        one.entry.value
        for one in files.read_journal(folder).entries
        if isinstance(one.entry, files.ReadingEntry)
    ]
    assert values == [12, 13]
    assert record(folder).readings["peel force"].value.tolist() == [13]


def test_what_someone_else_entered_stands_until_it_is_settled(folder):
    take_table(folder, fill(folder, {(1, FORCE): "12"}), who="Åsa")
    other = fill(folder, {(1, FORCE): "13"})
    with pytest.raises(RecordError, match=r"row 2.*Åsa entered 12, the table says 13.*--settle"):
        take_table(folder, other, who="Bo")
    assert record(folder).readings["peel force"].value.tolist() == [12]
    take_table(folder, other, who="Bo", settles=True)
    assert record(folder).readings["peel force"].value.tolist() == [13]


def test_two_writers_who_met_only_later_are_both_named(folder):
    for who, value in (("Åsa", 12.0), ("Bo", 13.0)):
        entry = files.ReadingEntry(
            run=1, part=1, reading=1, outcome="peel force", text="", value=value, unit="N"
        )
        files.append(folder, [entry], writer=who, who=who)
    with pytest.raises(RecordError, match=r"Run 1, peel force.*Åsa.*12.*Bo.*13.*--settle"):
        record(folder)


def test_the_results_table_edited_by_hand_is_never_overwritten_but_taken(folder):
    take_table(folder, fill(folder, {(1, FORCE): "12"}), who="Åsa")
    path = folder / "results.csv"
    path.write_text(path.read_text(encoding="utf-8").replace(",12,", ",12.4,"), encoding="utf-8")
    edited = path.read_bytes()
    with pytest.raises(FileError, match=r"changed by hand.*workbench take"):
        take_table(folder, fill(folder, {(2, FORCE): "9"}), who="Åsa")
    assert path.read_bytes() == edited
    take_table(folder, path, who="Åsa")
    assert record(folder).readings["peel force"].value.tolist() == [12.4]
    take_table(folder, fill(folder, {(2, FORCE): "9"}), who="Åsa")
    assert record(folder).readings["peel force"].value.tolist() == [12.4, 9]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({(2, FORCE): "many"}, "row 3, column 'peel force (N), part 1': 'many' is not a number"),
        ({(2, FORCE): "1,234"}, "two readings"),
        ({(2, FORCE): "3 mm"}, "cannot be converted"),
        ({(2, "leak, part 1"): "maybe"}, "'maybe' is not a reading"),
        ({(2, "voids (voids), part 1"): "1.5"}, "is not a count"),
        ({(2, "bead volume (mm³)"): "265"}, "planned at bead volume 260, but the table says 265"),
        ({(2, "activator as run"): "oiled"}, "no level 'oiled'"),
        ({(2, "status"): "excluded"}, "excluded without a reason"),
        ({(2, "status"): "fine"}, "'fine' is no status"),
        ({(2, "run"): "x"}, "'x' is not"),
        ({(2, "run"): "9"}, "Run 9 is neither planned nor recorded"),
        ({(2, "bead volume as run (mm³)"): ">270"}, "is no setting"),
    ],
)
def test_one_wrong_cell_refuses_the_whole_table(folder, changes, words):
    table = fill(folder, {(1, FORCE): "12", (2, FORCE): "13", **changes})
    with pytest.raises(WorkbenchError) as met:
        take_table(folder, table, who="Åsa")
    assert words in str(met.value)
    assert met.value.next_step
    assert journal_bytes(folder) == {}
    assert not (folder / "results.csv").exists()


def write(folder, text):
    path = folder.parent / "other.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_any_table_with_run_numbers_is_taken(folder):
    table = write(folder, "run,Peel Force (kN),weather\n1,0.0125,dry\n4,0.01,wet\n")
    receipt = take_table(folder, table, who="Åsa")
    assert record(folder).readings["peel force"].value.tolist() == [12.5, 10]
    (line,) = [one for one in receipt.lines if "'weather'" in one.where]
    assert line.understood == "left out"
    assert not line.sure


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("nr,peel force (N)\n1,2\n", "no column 'run'"),
        ("run,peel force (mm)\n1,2\n", "cannot be converted"),
        ("run,peel force\n1,2\n1,3\n", "Run 1, part 1, reading 1 of peel force"),
        ("run,status,peel force\n1,failed,2\n1,done,3\n", "stands"),
    ],
)
def test_tables_that_cannot_be_placed(folder, text, words):
    with pytest.raises(WorkbenchError) as met:
        take_table(folder, write(folder, text), who="Åsa")
    assert words in str(met.value)
    assert journal_bytes(folder) == {}


def test_a_run_that_was_added_states_all_its_settings(folder):
    table = write(
        folder,
        "run,bead volume as run (mm³),activator as run,humidity as run,peel force (N)\n"
        "5,300,none,40,11\n",
    )
    take_table(folder, table, who="Åsa")
    found = record(folder)
    assert found.run.tolist() == [1, 2, 3, 4, 5]
    assert np.isnan(found.planned.values[4, :2]).all()
    assert found.as_run.values[4].tolist() == [300, 0, 40]


def test_the_sheet_guards_text_that_a_spreadsheet_would_run(folder):
    assert {row["activator"] for row in sheet_rows(folder)} == {"none", "'=misted"}
    take_table(folder, fill(folder, {(1, "activator as run"): "'=misted"}), who="Åsa")
    assert record(folder).as_run.column("activator")[0] == 1


@pytest.mark.property
@settings(max_examples=25, deadline=None)
@given(
    st.lists(
        st.floats(allow_nan=False, allow_infinity=False, min_value=-1e12, max_value=1e12),
        min_size=1,
        max_size=4,
    )
)
def test_readings_there_and_back(tmp_path_factory, values):
    place = tmp_path_factory.mktemp("trial") / "bond"
    files.write_trial(place, TRIAL)
    files.write_plan(place, plan())
    files.write_sheet_csv(place, TRIAL, plan())
    table = fill(place, {(i, FORCE): repr(value) for i, value in enumerate(values, start=1)})
    take_table(place, table, who="Åsa")
    assert record(place).readings["peel force"].value.tolist() == values
    assert (
        take_table(place, place / "results.csv", who="Bo")
        .lines[-1]
        .understood.endswith("nothing new is added")
    )
