"""From the sheet to the report: resets, times, failures and corrections, nothing lost between."""

import csv

import numpy as np
import pytest
from openpyxl import load_workbook

from workbench import files, run, show
from workbench.define.factors import Categorical, Continuous
from workbench.define.outcomes import Measured
from workbench.define.settings import settings as settings_of
from workbench.define.terms import preset
from workbench.define.trial import Trial
from workbench.errors import FileError
from workbench.files.sheet_xlsx import write_sheet_xlsx
from workbench.plan.plans import Plan, Recipe
from workbench.run import Kind, Status
from workbench.steps.reporting import story_of
from workbench.steps.take import take_table
from workbench.steps.trials import open_trial

TRIAL = Trial(
    title="lid (invented)",
    question="?",
    factors=(
        Continuous(name="humidity", low=40, high=60, unit="%RH", setting_sd=1, slow=True),
        Categorical(name="tip", levels=("round", "chisel")),
    ),
    outcomes=(Measured(name="pull", unit="N"),),
    model="first-order",
)
HUMID = (40, 40, 60, 60, 60, 60, 40, 40)
TIPS = ("round", "chisel", "round", "chisel", "chisel", "round", "chisel", "round")


def plan():
    rows = [{"humidity": h, "tip": t} for h, t in zip(HUMID, TIPS, strict=True)]
    return Plan(
        settings=settings_of(TRIAL.factors, rows),
        block=np.ones(8, dtype=np.int64),
        setup=np.array([1, 1, 2, 2, 3, 3, 4, 4]),
        point=("factorial",) * 8,
        standard=np.arange(1, 9),
        parts_per_run=1,
        terms=preset("first-order", TRIAL.factors),
        recipe=Recipe(kind="full", options=(), seed=1, version="0"),
    )


@pytest.fixture
def folder(tmp_path):
    place = tmp_path / "lid"
    files.write_trial(place, TRIAL)
    files.write_plan(place, plan())
    return place


def filled(folder, cells, name="filled.csv"):
    sheet = files.write_sheet_csv(folder, TRIAL, plan())
    with sheet.open(encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.reader(stream))
    for (number, heading), text in cells.items():
        rows[number][rows[0].index(heading)] = text
    path = folder.parent / name
    with path.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream).writerows(rows)
    return path


PULLS = {
    (i, "pull (N)"): str(value)
    for i, value in enumerate((5.1, 8.3, 4.4, 7.9, 8.1, 4.7, 8.0), start=1)
}


def test_answers_go_from_the_sheet_into_the_record_the_results_and_back(folder):
    answers = {(2, "humidity reset?"): "no", (5, "humidity reset?"): "Yes"}
    take_table(folder, filled(folder, PULLS | answers), who="Mira")
    record = open_trial(folder).record
    assert record.resets[:, 0].tolist() == [-1, 0, -1, -1, 1, -1, -1, -1]
    (asked,) = [one for one in run.findings(record) if one.kind is Kind.RESET_UNSAID]
    assert asked.runs == (4, 6)
    results = folder / "results.csv"
    text = results.read_text("utf-8-sig")
    assert "humidity reset?" in text.splitlines()[0]
    results.write_text(text.replace("60,chisel,,7.9", "60,chisel,no,7.9"), "utf-8")
    assert "chisel,no,7.9" in results.read_text("utf-8")
    take_table(folder, results, who="Mira")
    assert open_trial(folder).record.resets[:, 0].tolist() == [-1, 0, -1, 0, 1, -1, -1, -1]


def test_an_answer_that_is_neither_is_refused_with_its_cell(folder):
    table = filled(folder, PULLS | {(2, "humidity reset?"): "maybe"})
    with pytest.raises(FileError, match=r"column .humidity reset\?.*'maybe' does not say"):
        take_table(folder, table, who="Mira")
    assert len(files.read_journal(folder).entries) == 0


def test_a_failed_run_goes_all_the_way_to_the_report_and_never_becomes_zero(folder):
    said = {(8, "status"): "failed", (8, "reason"): "housing cracked"}
    take_table(folder, filled(folder, PULLS | said), who="Mira")
    opened = open_trial(folder)
    assert opened.record.status[7] is Status.FAILED
    assert 7 not in opened.record.readings["pull"].row
    page = show.report(story_of(opened, None))
    assert "Run 8 failed: housing cracked." in page
    assert "Planned but not recorded" not in page
    row = (folder / "results.csv").read_text("utf-8-sig").splitlines()[8].split(",")
    assert row[-2:] == ["failed", "housing cracked"]
    assert "0" not in row[-4:-2]


def test_a_failed_run_that_was_read_is_kept_beside_and_said(folder):
    said = {(8, "pull (N)"): "0.2", (8, "status"): "failed", (8, "reason"): "housing cracked"}
    take_table(folder, filled(folder, PULLS | said), who="Mira")
    opened = open_trial(folder)
    assert opened.record.readings["pull"].value[-1] == 0.2
    assert not opened.record.used()[7]
    assert "Failed, and yet read: run 8" in show.report(story_of(opened, None))


def test_settling_what_another_entered_is_a_correction(folder):
    take_table(folder, filled(folder, PULLS | {(3, "pull (N)"): "44"}), who="Mira")
    again = filled(folder, PULLS | {(3, "notes"): "decimal point lost"}, name="again.csv")
    take_table(folder, again, who="Tomas", settles=True)
    (found,) = open_trial(folder).record.corrections
    assert (found.run, found.before, found.after, found.who) == (3, "44 N", "4.4 N", "Tomas")
    assert found.reason == "decimal point lost"


def test_ones_own_correction_carries_its_reason(folder):
    take_table(folder, filled(folder, PULLS | {(3, "pull (N)"): "44"}), who="Mira")
    again = filled(folder, PULLS | {(3, "notes"): "decimal point lost"}, name="again.csv")
    take_table(folder, again, who="Mira")
    opened = open_trial(folder)
    (found,) = opened.record.corrections
    assert (found.before, found.after, found.reason) == ("44 N", "4.4 N", "decimal point lost")
    assert "44 N was replaced by 4.4 N (Mira," in show.report(story_of(opened, None))


def test_the_workbook_asks_only_where_the_setting_stays(folder):
    sheet = load_workbook(write_sheet_xlsx(folder, TRIAL, plan()))["runs"]
    heads = [cell.value for cell in sheet[1]]
    column = heads.index("humidity reset?")
    cells = [row[column] for row in sheet.iter_rows(min_row=2)]
    is_open = [not cell.protection.locked for cell in cells]
    assert is_open == [False, True, False, True, True, True, False, True]
    assert "tip reset?" not in heads


def test_the_page_has_a_box_to_tick_only_there():
    page = show.run_sheet(TRIAL, plan())
    head, *rows = page.split('<table class="run">')[1].split('<tr><th scope="row"')
    assert "humidity reset?" in head
    assert [row.count('class="tick"') for row in rows] == [1, 2, 1, 2, 2, 2, 1, 2]
