"""`workbench new`: an invented example, or what is usual for an operation of the trade."""

import workbench as wb

IN_IT = ["plan_this_trial.ipynb", "read_this_trial.ipynb", "trial.toml"]


def names(folder):
    return sorted(path.name for path in folder.iterdir())


def test_without_an_operation_it_is_the_invented_example(command, tmp_path):
    said = command("new", tmp_path / "a")
    assert said.status == 0
    assert names(tmp_path / "a") == IN_IT
    trial = wb.files.read_trial(tmp_path / "a")
    assert trial.invented.startswith("Invented example")
    assert "data sheets" not in said.out


def test_an_operation_is_written_and_says_that_it_is_a_start(command, tmp_path):
    said = command("new", tmp_path / "a", "--operation", "cure")
    assert said.status == 0
    assert names(tmp_path / "a") == IN_IT
    assert wb.files.read_trial(tmp_path / "a").title == "Cure"
    assert "check each against data sheets" in said.out
    assert "state share and confidence" in said.out
    checked = command("check", tmp_path / "a")
    assert checked.status == 0


def test_the_window_is_refused_until_share_is_stated(command, tmp_path):
    command("new", tmp_path / "a", "--operation", "cure")
    said = command("window", tmp_path / "a")
    assert said.status == 2
    assert "share" in said.err


def test_an_unknown_operation_names_the_known_and_makes_no_folder(command, tmp_path):
    said = command("new", tmp_path / "a", "--operation", "knitting")
    assert said.status == 2
    for name in wb.files.operation_names():
        assert name in said.err
    assert not (tmp_path / "a").exists()
