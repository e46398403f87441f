"""Results keep pointing at the plan and trial that they were made under."""

import shutil
from dataclasses import replace

import pytest

import workbench as wb
from workbench.define import Continuous, Measured, Trial, at_least
from workbench.errors import FileError, PlanError, RecordError
from workbench.files import append, read_journal, read_plan, read_record, write_plan
from workbench.files.entries import ReadingEntry
from workbench.files.plan_files import COMING
from workbench.files.sheet_mark import short_digest
from workbench.files.trial_changes import trial_changes
from workbench.files.trial_write import write_trial
from workbench.files.versions import KEPT, kept_plan, plan_of_results
from workbench.steps.plan_wish import PlanWish
from workbench.steps.planning import make_plan
from workbench.steps.trials import open_trial

DWELL = Continuous(name="dwell", low=1, high=4, unit="s", setting_sd=0)
GAP = Continuous(name="gap", low=0.1, high=0.3, unit="mm", setting_sd=0)
FORCE = Measured(name="force", unit="N", requirement=at_least(5))
TRIAL = Trial(title="made up", question="?", factors=(DWELL, GAP), outcomes=(FORCE,))


def plan(trial, seed):
    return wb.plan.full(trial, seed=seed)


def enter(folder, run, value=1.0, writer="a"):
    one = ReadingEntry(
        run=run, part=1, reading=1, outcome="force", text=f"{value}", value=value, unit="N"
    )
    append(folder, [one], writer=writer, who=writer)


@pytest.fixture
def folder(tmp_path):
    write_trial(tmp_path, TRIAL)
    write_plan(tmp_path, plan(TRIAL, 1))
    return tmp_path


def settings(folder):
    return read_record(folder, TRIAL, read_plan(folder, TRIAL)).planned.values.tolist()


def other_plan(folder):
    """Put another plan in place of the first by hand, as if there were no results."""
    made = next(one for one in (plan(TRIAL, seed) for seed in range(2, 50)) if differs(one))
    write_plan(folder, made)


def differs(made):
    return made.settings.values.tolist() != plan(TRIAL, 1).settings.values.tolist()


def test_each_entry_names_the_plan_and_trial_that_are_kept(folder):
    enter(folder, 1)
    one = read_journal(folder).entries[0]
    assert kept_plan(folder, one.plan).table.read_bytes() == (folder / "plan.csv").read_bytes()
    kept = folder / KEPT / f"trial-{short_digest(one.trial)}.toml"
    assert kept.read_bytes() == (folder / "trial.toml").read_bytes()
    assert read_journal(folder).notes == ()


def test_before_the_first_result_plans_come_and_go(folder):
    other_plan(folder)
    assert settings(folder) != plan(TRIAL, 1).settings.values.tolist()
    assert not (folder / KEPT).exists()


def test_results_are_read_under_their_own_plan_and_it_is_said(folder):
    enter(folder, 1)
    before = settings(folder)
    other_plan(folder)
    assert settings(folder) == before
    opened = open_trial(folder)
    assert any("holds another plan than the one" in note for note in opened.record.notes)
    enter(folder, 2)  # what follows belongs to the same plan
    assert len({one.plan for one in read_journal(folder).entries}) == 1
    write_plan(folder, plan(TRIAL, 1))
    assert open_trial(folder).record.notes == ()


def test_a_plan_that_is_gone_is_read_as_kept(folder):
    enter(folder, 1)
    before = settings(folder)
    (folder / "plan.csv").unlink()
    (folder / "plan.toml").unlink()
    assert settings(folder) == before
    assert "plan.csv is gone" in read_journal(folder).notes[0]
    shutil.rmtree(folder / KEPT)
    with pytest.raises(FileError, match=r"made under the plan .{8}, which is not here"):
        settings(folder)


def test_a_cell_of_the_plan_edited_after_the_first_result_is_refused(folder):
    enter(folder, 1)
    table = folder / "plan.csv"
    table.write_text(table.read_text("utf-8").replace("0.3", "0.35", 1), "utf-8")
    with pytest.raises(FileError, match="was changed after the plan was made"):
        settings(folder)


def test_results_without_a_plan_stay_without(tmp_path):
    write_trial(tmp_path, TRIAL)
    enter(tmp_path, 1)
    assert plan_of_results(tmp_path) == ""
    write_plan(tmp_path, plan(TRIAL, 1))
    assert read_plan(tmp_path, TRIAL) is None
    assert "entered before there was a plan" in read_journal(tmp_path).notes[0]


def test_results_of_two_plans_are_not_mixed(folder, tmp_path_factory):
    apart = tmp_path_factory.mktemp("apart") / "trial"
    shutil.copytree(folder, apart)
    enter(folder, 1, writer="a")
    other_plan(apart)
    enter(apart, 1, writer="b")
    shutil.copytree(apart / "results", folder / "results", dirs_exist_ok=True)
    shutil.copytree(apart / KEPT, folder / KEPT, dirs_exist_ok=True)
    mixed = r"different plans: results/a.jsonl under plan .{8}, results/b.jsonl under plan .{8}"
    for read in (read_journal, open_trial, lambda one: enter(one, 2)):
        with pytest.raises(RecordError, match=mixed):
            read(folder)


def test_a_new_plan_is_refused_once_there_are_results(folder):
    enter(folder, 1)
    before = (folder / "plan.csv").read_bytes()
    with pytest.raises(PlanError, match=r"has results already.*in its own folder"):
        make_plan(folder, PlanWish(kind="full"))
    assert (folder / "plan.csv").read_bytes() == before


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("high = 4", "high = 5", "factor 'dwell': high was 4, is 5"),
        ("at_least = 5", "at_least = 4", "outcome 'force': at_least was 5, is 4"),
        ('unit = "N"', 'unit = "kN"', "outcome 'force': unit was N, is kN"),
    ],
)
def test_a_trial_changed_after_the_first_result_is_said(folder, old, new, said):
    enter(folder, 1)
    change(folder, old, new)
    notes = open_trial(folder).record.notes
    assert any(said in note and f"{KEPT}/trial-" in note for note in notes)


def change(folder, old, new):
    path = folder / "trial.toml"
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new), "utf-8")


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('"dwell"', '"hold"', "factor 'dwell' is gone; factor 'hold' is new"),
        ('unit = "s"', 'unit = "min"', "factor 'dwell': unit was s, is min"),
    ],
)
def test_a_change_that_parts_results_from_the_plan_is_refused_in_words(folder, old, new, said):
    enter(folder, 1)
    change(folder, old, new)
    with pytest.raises(FileError, match=f"Since the first result, trial.toml was changed: {said}"):
        open_trial(folder)


def test_an_outcome_that_has_results_cannot_go(folder):
    enter(folder, 1)
    change(folder, 'name = "force"', 'name = "pull"')
    with pytest.raises(RecordError, match="speaks of 'force', which the trial has not"):
        open_trial(folder)


def test_words_and_comments_may_change(folder):
    enter(folder, 1)
    change(folder, 'title = "made up"', 'title = "made up again"  # nicer')
    assert open_trial(folder).record.notes == ()


def test_changes_are_told_key_by_key():
    strict = replace(FORCE, requirement=None)
    now = replace(TRIAL, outcomes=(strict,), share=0.99, factors=(DWELL, replace(GAP, low=0.2)))
    assert trial_changes(TRIAL, now) == (
        "share was not stated, is 0.99",
        "factor 'gap': low was 0.1, is 0.2",
        "outcome 'force': at_least was 5, is not stated",
    )
    assert trial_changes(TRIAL, replace(TRIAL, title="another")) == ()


@pytest.mark.parametrize("name", ["../../../etc/x", 3, None, "xyz", "0" * 15])
def test_no_name_of_a_version_leads_out_of_the_folder(folder, name):
    enter(folder, 1)
    path = folder / "results" / "a.jsonl"
    line = path.read_text("utf-8")
    plan = read_journal(folder).entries[0].plan
    path.write_text(line.replace(f'"{plan}"', repr(name).replace("'", '"')), "utf-8")
    assert plan_of_results(folder) is None
    with pytest.raises(FileError, match="not what was written"):
        read_journal(folder)


def test_writing_a_plan_that_is_cut_short_leaves_the_old_one_or_the_new(folder, monkeypatch):
    old, new = plan(TRIAL, 1), plan(TRIAL, 3)
    for stop_at in (1, 2, 3):
        write_plan(folder, old)
        stop_write_plan(folder, new, stop_at=stop_at, monkeypatch=monkeypatch)
        found = read_plan(folder, TRIAL).settings.values.tolist()
        assert found == (old if stop_at < 3 else new).settings.values.tolist()
    assert not (folder / COMING).exists()


def test_the_first_plan_cut_short_is_there_or_not(tmp_path, monkeypatch):
    write_trial(tmp_path, TRIAL)
    for stop_at, is_there in ((1, False), (2, False), (3, True)):
        stop_write_plan(tmp_path, plan(TRIAL, 3), stop_at=stop_at, monkeypatch=monkeypatch)
        assert (read_plan(tmp_path, TRIAL) is not None) is is_there


def stop_write_plan(folder, new, *, stop_at, monkeypatch):
    """Stop before the given one of the three moves: table aside, recipe, table into place."""
    moves = []
    real = wb.files.plan_files

    def counted(move):
        def wrapped(*said):
            moves.append(move)
            if len(moves) == stop_at:
                raise KeyboardInterrupt
            return move(*said)

        return wrapped

    with monkeypatch.context() as patch:
        for name in ("write_text_atomically", "put_in_place"):
            patch.setattr(real, name, counted(getattr(real, name)))
        with pytest.raises(KeyboardInterrupt):
            write_plan(folder, new)
