"""A confirmation on disk: locked first, parts in their own journal, changes noticed, a verdict."""

import shutil

import pytest
from seal_confirm import filled_sheet, found_window, locked_seal, opened_seal

from workbench.decide.confirmation_made import ConfirmationWish
from workbench.decide.verdict import Answer
from workbench.decide.windows import NoWindow
from workbench.errors import DecisionError, FileError, PlanError, Unavailable
from workbench.files.confirmation_file import read_confirmation
from workbench.files.decisions import read_decisions
from workbench.steps.checking import check_trial
from workbench.steps.confirm import ConfirmWish, lock_confirmation, parts_folder
from workbench.steps.confirm_parts import judge_confirmation, take_parts, write_verdict
from workbench.steps.confirm_state import confirmation_state
from workbench.steps.trials import open_trial
from workbench.steps.windows import WindowAnswer


@pytest.fixture(scope="module")
def locked(tmp_path_factory):
    folder = tmp_path_factory.mktemp("locked") / "lid_seal"
    locked_seal(folder)
    return folder


@pytest.fixture
def folder(locked, tmp_path):
    """A copy of the locked trial that a test may spoil."""
    return shutil.copytree(locked, tmp_path / "lid_seal")


def test_what_is_locked_is_read_back_and_noted(locked):
    found = read_confirmation(locked)
    assert found.plan.locked_by == "Mira Osei"
    assert [one.what for one in found.plan.rests_on] == [
        "trial",
        "plan",
        "results",
        "workbench",
        "fits",
        "trial of the parts",
        "plan of the parts",
    ]
    noted = read_decisions(locked)[-1]
    assert noted.what == "predictions of the confirmation are locked"
    assert found.digest in noted.reason
    sheet = (locked / "confirmation_sheet.html").read_text("utf-8")
    assert "Silicone cure vapour" in sheet
    run_sheet = (parts_folder(locked) / "run_sheet.html").read_text("utf-8")
    assert "Silicone cure vapour" in run_sheet
    assert 'class="n same"' not in run_sheet


def test_parts_of_the_process_behind_the_demo_confirm_its_window(folder):
    taken = take_parts(folder, filled_sheet(folder), who="Tomas Lind")
    assert taken.off_plan is None
    judged = judge_confirmation(folder)
    assert judged.verdict.answer is Answer.HOLDS
    assert judged.verdict.changed == ()
    up = check_trial(folder)
    assert up.is_sound
    assert not any("confirmation" in str(one) for one in up.remarks.notes)
    page = write_verdict(folder, judged).read_text("utf-8")
    assert "The window holds" in page
    assert "Silicone cure vapour" in page
    state = confirmation_state(folder)
    assert state.verdict == judged.verdict
    # Results of the parts are not results of the trial.
    assert len(open_trial(folder).record) == 30


def test_without_parts_there_is_a_plan_and_no_verdict(locked):
    state = confirmation_state(locked)
    assert isinstance(state.verdict, Unavailable)
    with pytest.raises(DecisionError, match="No part of the confirmation is recorded"):
        judge_confirmation(locked)


def test_a_part_at_another_setting_is_kept_and_refused(folder):
    def slip(row):
        if row["run"] == "7":
            row["bead volume as run (mm³)"] = "380"

    taken = take_parts(folder, filled_sheet(folder, change=slip), who="Tomas Lind")
    assert "run 7 at bead volume 380" in taken.off_plan.wrong
    with pytest.raises(DecisionError, match="at other settings than planned: run 7"):
        judge_confirmation(folder)
    assert isinstance(confirmation_state(folder).verdict, Unavailable)


def test_a_part_that_broke_counts(folder):
    def broke(row):
        if row["run"] == "3":
            for name in list(row)[10:13]:
                row[name] = ""
            row["status"], row["reason"] = "failed", "housing cracked"

    take_parts(folder, filled_sheet(folder, change=broke), who="Tomas Lind")
    verdict = judge_confirmation(folder).verdict
    assert verdict.answer is Answer.OPEN
    assert sum(one.tally.lost for one in verdict.places) == 1


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("trial.toml", "trial.toml was changed after"),
        ("results", "Results of the trial were changed after"),
        ("plan.toml", "The plan of the trial was changed after"),
    ],
)
def test_what_changed_since_the_lock_is_said(folder, name, words):
    take_parts(folder, filled_sheet(folder), who="Tomas Lind")
    path = folder / name
    if name == "results":
        late = folder / "late.csv"
        late.write_text("run,notes\n1,looked odd\n", "utf-8")
        from workbench.steps.take import take_table

        take_table(folder, late, who="Mira Osei")
    else:
        path.write_text(path.read_text("utf-8") + "\n# a later thought\n", "utf-8")
    changed = judge_confirmation(folder).verdict.changed
    assert any(line.startswith(words) for line in changed)


def test_a_prediction_that_was_changed_is_refused(folder):
    path = folder / "confirmation.toml"
    text = path.read_text("utf-8")
    path.write_text(text.replace("share = 0.95", "share = 0.85", 1), "utf-8")
    assert not check_trial(folder).is_sound
    with pytest.raises(FileError, match="changed after it was locked"):
        read_confirmation(folder)


def test_a_lock_written_anew_is_not_the_one_noted(folder):
    take_parts(folder, filled_sheet(folder), who="Tomas Lind")
    from workbench.files.confirmation_file import write_confirmation

    plan = read_confirmation(folder).plan
    from dataclasses import replace

    write_confirmation(folder, replace(plan, locked_by="someone else"))
    changed = judge_confirmation(folder).verdict.changed
    assert any("decisions.toml notes" in line for line in changed)


@pytest.mark.parametrize("name", ["trial.toml", "plan.csv"])
def test_parts_are_not_judged_by_other_requirements_or_settings(folder, name):
    path = parts_folder(folder) / name
    text = path.read_text("utf-8")
    path.write_text(text.replace("at_most = 0.6", "at_most = 6").replace("0.95", "0.90"), "utf-8")
    wrong = [one.wrong for one in check_trial(folder).remarks.mend]
    assert len(wrong) == 1
    assert name in wrong[0]
    with pytest.raises(FileError, match="of the parts was changed"):
        take_parts(folder, folder / "none.csv", who="Tomas Lind")


def test_a_second_lock_takes_a_reason_and_none_once_parts_are_made(folder):
    from workbench.steps.confirm import plan_confirmation

    opened = open_trial(folder)
    with pytest.raises(PlanError, match=r"A confirmation was locked on .* by Mira Osei"):
        plan_confirmation(opened, ConfirmWish())
    take_parts(folder, filled_sheet(folder), who="Tomas Lind")
    with pytest.raises(PlanError, match="Parts of a confirmation are recorded already"):
        plan_confirmation(opened, ConfirmWish(again="wider"))


def test_a_lock_in_place_of_another_says_why(folder):
    opened = open_trial(folder)
    wish = ConfirmWish(again="two corners are too few", parts=ConfirmationWish(corners=3))
    made = lock_confirmation(opened, found_window(opened), wish)
    assert "two corners are too few" in read_decisions(folder)[-1].reason
    assert read_confirmation(folder).digest == made.locked.digest


def test_no_window_no_confirmation(tmp_path):
    opened = opened_seal(tmp_path / "lid_seal")
    none = NoWindow(
        reason="Nothing holds.",
        share=0.95,
        confidence=0.95,
        nearest_miss=None,
        next_trial="Less scatter.",
    )
    answer = WindowAnswer(decision=none, fits=(), accepted="")
    with pytest.raises(PlanError, match="no window to confirm: Nothing holds") as met:
        lock_confirmation(opened, answer, ConfirmWish())
    assert met.value.next_step == "Less scatter."
    assert not (opened.folder / "confirmation.toml").exists()
