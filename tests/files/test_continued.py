"""Runs added to a plan: what was recorded before stays, and is read with the longer plan."""

import numpy as np
import pytest

import workbench as wb
from workbench.define import Continuous, Measured, Trial, at_least
from workbench.define.settings import from_coded
from workbench.errors import FileError, PlanError, RecordError
from workbench.files import append, read_journal, read_plan, read_record, write_plan
from workbench.files.continued import goes_on_from
from workbench.files.entries import ReadingEntry
from workbench.files.plan_table import table_text
from workbench.files.trial_write import write_trial
from workbench.files.versions import kept_plan, plan_of_results, version_notes
from workbench.steps.sheets import write_sheet
from workbench.steps.take import take_table

DWELL = Continuous(name="dwell", low=1, high=4, unit="s", setting_sd=0)
GAP = Continuous(name="gap", low=0.1, high=0.3, unit="mm", setting_sd=0)
FORCE = Measured(name="force", unit="N", requirement=at_least(5))
TRIAL = Trial(title="made up", question="?", factors=(DWELL, GAP), outcomes=(FORCE,))
FIRST = wb.plan.full(TRIAL, seed=1)


def longer(plan, coded=((0.0, 0.0), (0.5, -0.5)), seed=9):
    runs = from_coded(TRIAL.factors, np.array(coded))
    point = ("corner",) * len(runs)
    return wb.plan.with_added_block(TRIAL, plan, runs, point=point, what_for="corners", seed=seed)


def enter(folder, run, value=1.0, writer="a"):
    one = ReadingEntry(
        run=run, part=1, reading=1, outcome="force", text=f"{value}", value=value, unit="N"
    )
    append(folder, [one], writer=writer, who=writer)


@pytest.fixture
def folder(tmp_path):
    write_trial(tmp_path, TRIAL)
    write_plan(tmp_path, FIRST)
    return tmp_path


def record(folder):
    return read_record(folder, TRIAL, read_plan(folder, TRIAL))


def test_earlier_runs_keep_their_number_setting_and_order():
    whole = longer(FIRST)
    n = len(FIRST)
    assert (whole.settings.values[:n] == FIRST.settings.values).all()
    assert whole.block.tolist() == [1] * n + [2, 2]
    assert sorted(whole.standard.tolist()) == list(range(1, n + 3))
    assert whole.recipe.options[-2:] == (("added runs", "corners"), ("added seed", "9"))
    assert f"Runs {n + 1} to {n + 2} were added" in whole.recipe.notes[-1]
    assert table_text(whole).startswith(table_text(FIRST))


def test_the_order_is_drawn_by_its_seed():
    coded = tuple((a / 4, b / 4) for a in range(-2, 3) for b in range(-2, 3))
    one, same, other = (longer(FIRST, coded, seed=seed) for seed in (1, 1, 2))
    assert (one.settings.values == same.settings.values).all()
    assert (one.settings.values != other.settings.values).any()


def test_what_was_recorded_is_read_with_the_longer_plan(folder):
    enter(folder, 1, 7.5)
    before = record(folder)
    write_plan(folder, longer(FIRST))
    after = record(folder)
    assert len(after) == len(before) + 2
    assert (after.planned.values[: len(before)] == before.planned.values).all()
    assert after.readings["force"].value.tolist() == [7.5]
    assert version_notes(folder) == ()


def test_entries_keep_pointing_at_the_plan_they_were_made_under(folder):
    enter(folder, 1)
    write_plan(folder, longer(FIRST))
    enter(folder, 5)
    first, second = read_journal(folder).entries
    assert first.plan != second.plan
    assert kept_plan(folder, first.plan).table.read_text("utf-8") == table_text(FIRST)
    assert plan_of_results(folder) == second.plan
    assert len(record(folder)) == 6


def test_two_writers_under_the_plan_before_and_after_are_one_trial(folder):
    enter(folder, 1, writer="a")
    write_plan(folder, longer(FIRST))
    enter(folder, 5, writer="b")
    assert record(folder).readings["force"].row.tolist() == [0, 4]
    write_plan(folder, FIRST)  # the shorter one put back by hand
    assert len(record(folder)) == 6
    assert "holds another plan" in version_notes(folder)[0]


def test_two_plans_that_each_go_on_in_their_own_way_are_not_mixed(folder):
    enter(folder, 1, writer="a")
    write_plan(folder, longer(FIRST))
    enter(folder, 5, writer="a")
    results = (folder / "results" / "a.jsonl").read_bytes()
    end = (folder / "results" / "a.end").read_bytes()
    for path in (folder / "results").iterdir():
        path.unlink()
    write_plan(folder, longer(FIRST, ((0.2, 0.2),)))
    enter(folder, 5, writer="b")
    (folder / "results" / "a.jsonl").write_bytes(results)
    (folder / "results" / "a.end").write_bytes(end)
    with pytest.raises(RecordError, match="entered under different plans"):
        record(folder)


def test_a_plan_that_only_looks_like_it_is_another_plan(folder):
    enter(folder, 1)
    text = table_text(longer(FIRST))
    pointer = read_journal(folder).entries[0].plan
    assert goes_on_from(text, pointer)
    assert goes_on_from(text.replace("\n", "\r\n"), pointer)
    assert not goes_on_from(text.replace("0.3", "0.35", 1), pointer)


def test_blocks_can_be_added_again_and_again(folder):
    enter(folder, 1)
    once = longer(FIRST)
    twice = longer(once, ((1.0, 0.0),), seed=10)
    write_plan(folder, twice)
    back = read_plan(folder, TRIAL)
    assert back.recipe.options == twice.recipe.options
    assert len({name for name, _ in twice.recipe.options}) == len(twice.recipe.options)
    assert record(folder).planned.values.shape == (7, 2)


def test_an_edited_cell_of_the_longer_plan_is_refused(folder):
    enter(folder, 1)
    write_plan(folder, longer(FIRST))
    table = folder / "plan.csv"
    table.write_text(table.read_text("utf-8").replace("2.5", "2.6", 1), "utf-8")
    with pytest.raises(FileError, match="was changed after the plan was made"):
        record(folder)


def test_a_sheet_from_before_can_still_be_taken_and_the_new_one_holds_the_new_runs(folder):
    write_sheet(folder)
    old = (folder / "run_sheet.xlsx").read_bytes()
    enter(folder, 1)
    write_plan(folder, longer(FIRST))
    sheets = write_sheet(folder, first_run=5)
    lines = sheets.table.read_text("utf-8-sig").splitlines()
    assert [line.split(",")[0] for line in lines[1:]] == ["5", "6"]
    assert "block" in lines[0]
    page = sheets.page.read_text("utf-8")
    assert "Before run 5" in page
    assert "Block 2" in page
    filled = folder / "filled.csv"
    heading = lines[0].split(",")
    rows = [line.split(",") for line in lines[1:]]
    for row in rows:
        row[next(i for i, one in enumerate(heading) if one.startswith("force"))] = "6.5"
    filled.write_text("\n".join(",".join(row) for row in [heading, *rows]), "utf-8")
    take_table(folder, filled, who="a")
    assert record(folder).readings["force"].row.tolist() == [0, 4, 5]
    before = folder / "before.xlsx"
    before.write_bytes(old)
    take_table(folder, before, who="a")  # nothing new in it, and not refused


def test_runs_over_other_factors_or_forbidden_are_refused():
    other = Trial(title="t", question="?", factors=(GAP,), outcomes=(FORCE,))
    runs = from_coded(other.factors, np.array([[0.0]]))
    with pytest.raises(PlanError, match="1 runs over gap were to be added"):
        wb.plan.with_added_block(other, FIRST, runs, point=("corner",), what_for="x", seed=1)


def test_an_added_block_is_not_made_again_from_the_recipe():
    with pytest.raises(PlanError, match="came from the results and do not stand in the recipe"):
        wb.plan.remake(TRIAL, longer(FIRST).recipe)
