"""A filled-in workbook sheet taken back: the record equals what was filled in."""

import datetime as dt

import invented_bond as bond
import numpy as np
import pytest
from openpyxl import load_workbook

from workbench import files
from workbench.errors import FileError
from workbench.files.record_files import held_now
from workbench.files.sheet_xlsx import write_sheet_xlsx
from workbench.run.record import Status
from workbench.steps.sheets import write_sheet
from workbench.steps.take import take_table

FORCE = "peel force (N), part 1"


@pytest.fixture
def folder(tmp_path):
    place = tmp_path / "bond"
    files.write_trial(place, bond.TRIAL)
    files.write_plan(place, bond.plan())
    return place


def fill(folder, changes, name="filled.xlsx"):
    """Fill in cells of the workbook: {(run, heading): value}; return where it was saved."""
    book = load_workbook(write_sheet_xlsx(folder, bond.TRIAL, bond.plan()))
    sheet = book["runs"]
    heads = {cell.value: cell.column for cell in sheet[1]}
    for (run, heading), value in changes.items():
        sheet.cell(run + 1, heads[heading]).value = value
    path = folder.parent / name
    book.save(path)
    return path


def record(folder):
    return files.read_record(folder, bond.TRIAL, files.read_plan(folder, bond.TRIAL))


def readings(found, outcome):
    one = found.readings[outcome]
    rows = zip(one.row, one.part, one.value, one.mark, strict=True)
    return {(int(r) + 1, int(p)): (float(v), int(m)) for r, p, v, m in rows}


def test_the_round_trip(folder):
    made = dt.datetime(2026, 11, 25, 14, 30)  # noqa: DTZ001 - a cell knows no zone
    table = fill(
        folder,
        {
            (1, FORCE): 12.5,
            (1, "peel force (N), part 2"): ">250",
            (2, FORCE): "69,5",
            (1, "bead volume as run (mm³)"): 262.25,
            (1, "activator as run"): "'=misted",
            (1, "humidity as run (%RH)"): 45,
            (1, "leak (mm³/s), part 1"): 0.0314,
            (1, "tight, part 1"): "yes",
            (1, "tight, part 2"): "no",
            (1, "look, part 1"): "'+white",
            (1, "voids (voids), part 1"): 3,
            (1, "made at"): made,
            (1, "notes"): "'=cmd|' /c calc'!A1",
            (1, "who"): "Åsa",
            (2, "status"): "excluded",
            (2, "reason"): "dropped",
            (3, "status"): "failed",
            (3, "who"): "Bo",
            (3, "block"): "lot 7",
            (4, "block"): "lot 7",
            (4, FORCE): 8,
        },
    )
    receipt = take_table(folder, table, who="Åsa")
    found = record(folder)
    assert found.status == (Status.DONE, Status.EXCLUDED, Status.FAILED, Status.DONE)
    assert found.reason[1] == "dropped"
    assert readings(found, "peel force") == {
        (1, 1): (12.5, 0),
        (1, 2): (250.0, 1),
        (2, 1): (69.5, 0),
        (4, 1): (8.0, 0),
    }
    assert readings(found, "leak") == {(1, 1): (0.0314, 0)}
    assert readings(found, "tight") == {(1, 1): (1.0, 0), (1, 2): (0.0, 0)}
    assert readings(found, "look") == {(1, 1): (2.0, 0)}
    assert readings(found, "voids") == {(1, 1): (3.0, 0)}
    volume = found.as_run.column("bead volume").tolist()
    assert volume == [262.25, 260, 440, 440]
    assert found.as_run.column("activator").tolist() == [1, 1, 0, 1]
    assert found.as_run.column("humidity")[0] == 45
    assert np.isnan(found.as_run.column("humidity")[1:]).all()
    assert found.block_labels[found.block[2]] == "lot 7"
    held = held_now(files.read_journal(folder), bond.TRIAL)
    assert held.of_run(1, "note") == "=cmd|' /c calc'!A1 (made by Åsa)"
    assert held.of_run(3, "note") == "made by Bo"
    times = [line for line in receipt.lines if "when each run was made" in line.understood]
    assert len(times) == 1
    assert found.made_at == ("2026-11-25T14:30:00", "", "", "")
    assert not any("times for the bench" in line.understood for line in receipt.lines)
    comma = [line for line in receipt.lines if "69,5" in line.met]
    assert comma[0].understood == "decimal comma"


def test_taking_it_twice_adds_nothing(folder):
    table = fill(folder, {(1, FORCE): 12.5, (1, "who"): "Åsa"})
    take_table(folder, table, who="Åsa")
    before = {path.name: path.read_bytes() for path in (folder / "results").iterdir()}
    take_table(folder, table, who="Åsa")
    again = fill(folder, {(1, FORCE): 12.5, (1, "who"): "Åsa"}, name="again.xlsx")
    take_table(folder, again, who="Åsa")
    assert {path.name: path.read_bytes() for path in (folder / "results").iterdir()} == before


def test_an_empty_sheet_adds_nothing(folder):
    receipt = take_table(folder, fill(folder, {}), who="Åsa")
    assert "nothing new" in receipt.lines[-1].understood
    assert all(status is Status.MISSING for status in record(folder).status)


def test_a_sheet_of_another_plan_is_refused(folder):
    table = fill(folder, {(1, FORCE): 12.5})
    files.write_plan(folder, bond.plan(turned=True))
    with pytest.raises(FileError, match=r"written for the plan [0-9a-f]{8}; the plan here is"):
        take_table(folder, table, who="Åsa")
    for name in ("plan.csv", "plan.toml"):
        (folder / name).unlink()
    with pytest.raises(FileError, match="there is no plan here"):
        take_table(folder, table, who="Åsa")
    assert not (folder / "results").exists()


def test_a_moved_planned_cell_is_told(folder):
    table = fill(folder, {(1, "bead volume (mm³)"): 300})
    with pytest.raises(FileError, match="planned at bead volume 260"):
        take_table(folder, table, who="Åsa")


def test_a_word_that_is_none_names_its_cell(folder):
    table = fill(folder, {(2, "tight, part 1"): "perhaps"})
    with pytest.raises(FileError, match="perhaps") as met:
        take_table(folder, table, who="Åsa")
    assert "sheet 'runs', row 3, column 'tight, part 1'" in str(met.value)


def test_all_three_sheets_are_written(folder):
    sheets = write_sheet(folder)
    for path in (sheets.page, sheets.table, sheets.workbook):
        assert path.stat().st_size > 0
    assert take_table(folder, sheets.workbook, who="Åsa").n_rows == 4
