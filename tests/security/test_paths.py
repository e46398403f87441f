"""No path outside the trial folder is written, whatever a trial or a table calls its files."""

import shutil

import pytest

from workbench import files
from workbench.errors import FileError, WorkbenchError
from workbench.files.entries import Attachment
from workbench.steps.adopt import adopt
from workbench.steps.adopt_options import AdoptOptions

OUTSIDE = "kept"
CLIMBING = (
    "../../x",
    "/etc/x",
    "C:\\x",
    "\\\\server\\share\\x",
    "a/../../x",
    "..",
    "",
    "nul\x00byte",
    "turned\u202e",
)


@pytest.fixture
def trial(hostile, tmp_path):
    """Return a copy of the hostile trial, beside a file that must stay as it is."""
    (tmp_path / "outside").mkdir()
    (tmp_path / "outside" / "theirs").write_text(OUTSIDE)
    return shutil.copytree(hostile, tmp_path / "trial")


def outside(trial):
    """Return what lies beside the trial now."""
    place = trial.parent / "outside"
    return {one.name: one.read_text() for one in place.iterdir()}


@pytest.mark.parametrize("path", CLIMBING)
def test_a_file_of_a_run_lies_inside_the_folder(path):
    with pytest.raises(FileError, match="does not lie inside"):
        Attachment(path=path, digest="0" * 64)


@pytest.mark.parametrize("path", ["photos/" + "a" * 300, "a/" * 50 + "b"])
def test_a_file_of_a_run_has_a_name_that_a_disk_can_keep(path):
    with pytest.raises(FileError, match="too long"):
        Attachment(path=path, digest="0" * 64)


@pytest.mark.parametrize("who", ["../../x", "/etc/passwd", "..\\x", "\x00", "CON", "", "a/b"])
def test_a_writer_is_letters_digits_and_hyphens(who):
    name = files.writer_name(who, "../bench")
    assert name.replace("-", "").isalnum()
    assert name.isascii()


@pytest.mark.parametrize(
    ("name", "command"),
    [
        ("results.csv", "take"),
        ("run_sheet.html", "sheet"),
        ("run_sheet.csv", "sheet"),
        ("run_sheet.xlsx", "sheet"),
        ("report.html", "report"),
        ("plan.csv", "plan"),
    ],
)
def test_a_link_that_leads_out_is_never_written_through(trial, command, name):
    target = trial.parent / "outside" / "theirs"
    (trial / name).unlink(missing_ok=True)
    (trial / name).symlink_to(target)
    arguments = {
        "take": (trial, _corrected(trial), "--settle", "--reason", "typed wrong"),
        "plan": (trial, "--kind", "full", "--seed", "1"),
    }
    said = run(command, *arguments.get(command, (trial,)))
    assert said != 0
    assert outside(trial) == {"theirs": OUTSIDE}


@pytest.mark.parametrize("name", ["results", "versions"])
def test_a_folder_that_is_a_link_out_takes_no_entry(trial, name):
    place = trial.parent / "outside"
    shutil.rmtree(trial / name)
    (trial / name).symlink_to(place, target_is_directory=True)
    said = run("take", trial, _corrected(trial), "--who", "Mira", "--settle")
    assert said == 2
    assert outside(trial) == {"theirs": OUTSIDE}


def test_a_link_inside_the_folder_is_followed(tmp_path):
    (tmp_path / "real.txt").write_text("old")
    (tmp_path / "link.txt").symlink_to("real.txt")
    files.write_text_atomically(tmp_path / "link.txt", "new")
    assert (tmp_path / "real.txt").read_text() == "new"


def test_an_export_goes_into_no_link(trial):
    (trial / "export").symlink_to(trial.parent / "outside", target_is_directory=True)
    assert run("export", trial) == 2
    assert outside(trial) == {"theirs": OUTSIDE}


def test_a_circle_of_links_is_an_error_of_the_folder(trial, command):
    (trial / "a").symlink_to("b")
    (trial / "b").symlink_to("a")
    said = command("check", trial)
    assert said.status == 2
    assert "leads out of the folder" in said.out


def test_a_check_says_which_links_lead_out_and_follows_none(trial, command):
    (trial / "photos").symlink_to(trial.parent / "outside", target_is_directory=True)
    said = command("check", trial)
    assert said.status == 2
    assert "photos" in said.out
    assert "theirs" not in said.out


def test_a_plan_recipe_and_a_sheet_name_open_no_path(tmp_path):
    table = tmp_path / "t.csv"
    table.write_text(
        "run,dwell (s),pull (N)\n" + "".join(f"{i},{i % 3},{i}\n" for i in range(1, 9))
    )
    with pytest.raises(WorkbenchError):
        adopt(table, tmp_path / "new", AdoptOptions(sheet="../../x", who="x"))
    folder = tmp_path / "adopted"
    adopt(table, folder, AdoptOptions(title="../../x", who="../../y"))
    assert sorted(one.name for one in tmp_path.iterdir()) == ["adopted", "t.csv"]
    assert all(one.resolve().is_relative_to(folder) for one in folder.rglob("*"))


def run(*arguments):
    """Run a command and return its status."""
    from workbench.cli import main

    return main([str(one) for one in arguments])


def _corrected(trial):
    table = trial.parent / "corrected.csv"
    text = (trial / "typed.csv").read_text(encoding="utf-8")
    table.write_text(text.replace(",5.1,", ",5.2,").replace(",6.4,", ",6.3,"), encoding="utf-8")
    assert table.read_text(encoding="utf-8") != text
    return table
