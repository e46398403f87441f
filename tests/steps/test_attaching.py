"""A photo attached to a run: where it lies, what the journal says, what a check finds."""

import json

import pytest

from workbench import files
from workbench.cli import main
from workbench.define import Continuous, Measured, Trial
from workbench.errors import WorkbenchError
from workbench.files.attached_copy import copied_inside
from workbench.run import FileState, Status
from workbench.steps.attaching import AttachWish, attach_file
from workbench.steps.checking import check_trial
from workbench.steps.take import take_table
from workbench.steps.trials import open_trial

TRIAL = Trial(
    title="lid seal (invented)",
    question="Which bead holds the lid?",
    factors=(Continuous(name="bead", low=1, high=3, unit="mm", setting_sd=0.1),),
    outcomes=(Measured(name="pull", unit="N"),),
)


@pytest.fixture
def folder(tmp_path):
    home = tmp_path / "lid_seal"
    home.mkdir()
    files.write_trial(home, TRIAL)
    table = tmp_path / "runs.csv"
    table.write_text("run,bead as run,pull [N]\n1,1.5,5.1\n2,2.5,4.4\n")
    take_table(home, table, who="Mira", writer="mira")
    return home


def attach(folder, file, **said):
    return attach_file(folder, file, AttachWish(**{"run": 1, "who": "Mira"} | said))


def journal_bytes(folder):
    return b"".join(one.read_bytes() for one in sorted((folder / "results").glob("*.jsonl")))


def test_a_file_inside_the_folder_stays_where_it_is(folder):
    photo = folder / "photos" / "gap.jpg"
    photo.parent.mkdir()
    photo.write_bytes(b"gap")
    made = attach(folder, photo, part=2, outcome="pull", note="gap at the corner")
    assert (made.was_copied, made.is_new) == (False, True)
    assert made.belongs_to == "run 1, part 2, pull"
    (one,) = open_trial(folder).record.attachments
    assert (one.run, one.path, one.part, one.outcome) == (1, "photos/gap.jpg", 2, "pull")
    assert (one.note, one.state) == ("gap at the corner", FileState.UNCHANGED)
    assert not (folder / "attachments").exists()


def test_a_file_from_elsewhere_is_copied_over_no_other(folder, tmp_path):
    camera = tmp_path / "Gap (oben).JPG"
    camera.write_bytes(b"first")
    assert attach(folder, camera).attachment.path == "attachments/Gap_oben.JPG"
    camera.write_bytes(b"second")
    assert attach(folder, camera, run=2).attachment.path == "attachments/Gap_oben_2.JPG"
    assert (folder / "attachments" / "Gap_oben.JPG").read_bytes() == b"first"
    assert (folder / "attachments" / "Gap_oben_2.JPG").read_bytes() == b"second"
    assert check_trial(folder).is_sound


def test_the_same_file_twice_adds_nothing(folder, tmp_path):
    camera = tmp_path / "gap.jpg"
    camera.write_bytes(b"gap")
    attach(folder, camera)
    before = journal_bytes(folder)
    assert not attach(folder, camera).is_new
    assert journal_bytes(folder) == before
    assert len(list((folder / "attachments").iterdir())) == 1


def test_one_file_of_two_parts_attached_anew_is_the_new_one_for_both(folder):
    photo = folder / "gap.jpg"
    photo.write_bytes(b"gap")
    attach(folder, photo, part=1)
    attach(folder, photo, part=2)
    photo.write_bytes(b"another")
    assert len(check_trial(folder).remarks.mend) == 1
    attach(folder, photo, part=2)
    attached = open_trial(folder).record.attachments
    assert [one.part for one in attached] == [1, 2]
    assert {one.state for one in attached} == {FileState.UNCHANGED}


def test_a_photo_makes_no_run(tmp_path, folder):
    camera = tmp_path / "gap.jpg"
    camera.write_bytes(b"gap")
    attach(folder, camera)
    record = open_trial(folder).record
    assert record.run.tolist() == [1, 2]
    assert set(record.status) == {Status.DONE}
    assert record.corrections == ()


def test_a_changed_or_missing_file_is_found_by_a_check(folder):
    photo = folder / "gap.jpg"
    photo.write_bytes(b"gap")
    attach(folder, photo)
    photo.write_bytes(b"gap, mended")
    (changed,) = check_trial(folder).remarks.mend
    assert "not the one that was attached" in changed.wrong
    photo.unlink()
    (missing,) = check_trial(folder).remarks.mend
    assert "not here" in missing.wrong


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"run": 9}, "Run 9 is neither planned nor recorded"),
        ({"part": -1}, "no number of a part"),
        ({"outcome": "torque"}, "torque"),
    ],
)
def test_what_is_not_there_is_refused_and_nothing_is_written(folder, tmp_path, said, words):
    camera = tmp_path / "gap.jpg"
    camera.write_bytes(b"gap")
    before = journal_bytes(folder)
    with pytest.raises(WorkbenchError) as met:
        attach(folder, camera, **said)
    assert words in str(met.value)
    assert journal_bytes(folder) == before
    assert not (folder / "attachments").exists()


@pytest.mark.parametrize("name", ["trial.toml", "results.csv", "results/mira.jsonl"])
def test_what_the_workbench_writes_itself_is_refused(folder, name):
    with pytest.raises(WorkbenchError, match="written by the workbench"):
        attach(folder, folder / name)


def test_no_file_and_a_link_that_leads_out_are_refused(folder, tmp_path):
    with pytest.raises(WorkbenchError, match="not a file"):
        attach(folder, tmp_path / "none.jpg")
    (tmp_path / "secret").write_bytes(b"secret")
    (folder / "link.jpg").symlink_to(tmp_path / "secret")
    with pytest.raises(WorkbenchError, match="leads out"):
        attach(folder, folder / "link.jpg")


def test_attachments_that_lead_out_of_the_folder_are_not_written_to(folder, tmp_path):
    (tmp_path / "elsewhere").mkdir()
    (folder / "attachments").symlink_to(tmp_path / "elsewhere")
    (tmp_path / "gap.jpg").write_bytes(b"gap")
    with pytest.raises(WorkbenchError, match="leads out"):
        attach(folder, tmp_path / "gap.jpg")
    assert list((tmp_path / "elsewhere").iterdir()) == []


def test_a_copy_that_fails_leaves_nothing(folder, tmp_path, monkeypatch):
    (tmp_path / "gap.jpg").write_bytes(b"gap")

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("workbench.files.attached_copy.shutil.copyfileobj", full)
    with pytest.raises(WorkbenchError, match="No space left"):
        copied_inside(folder, tmp_path / "gap.jpg")
    assert list((folder / "attachments").iterdir()) == []


def test_the_command_says_what_it_copied(folder, tmp_path, capsys):
    (tmp_path / "gap.jpg").write_bytes(b"gap")
    said = [str(folder), str(tmp_path / "gap.jpg"), "--run", "2", "--part", "1"]
    assert main(["attach", *said]) == 0
    printed = capsys.readouterr().out
    assert "copied" in printed
    assert "attached attachments/gap.jpg to run 2, part 1" in printed
    assert main(["attach", *said, "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["path"] == "attachments/gap.jpg"
    assert (answer["run"], answer["part"], answer["copied"], answer["new"]) == (2, 1, True, False)
    assert main(["attach", str(folder), str(tmp_path / "none.jpg"), "--run", "2"]) == 2
