"""Exit status, standard output and standard error of every kind of answer."""

import io
import json
import os
import subprocess
import sys

import pytest

import workbench
from workbench.cli import commands, main
from workbench.cli.options import COMMANDS
from workbench.steps.opening import server_command


def write(folder, name, text):
    folder.mkdir(exist_ok=True)
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


@pytest.fixture
def two_level(command, tmp_path):
    """A two-level trial with repeats and a requirement, nothing tried between the levels."""
    rows = ["gap,force"]
    for gap, forces in ((1, (9.1, 9.4, 9.2, 9.0, 9.3, 9.2)), (2, (7.0, 7.3, 7.1, 7.2, 6.9, 7.1))):
        rows += [f"{gap},{force}" for force in forces]
    table = write(tmp_path, "table.csv", "\n".join(rows))
    folder = tmp_path / "trial"
    said = command(
        "adopt",
        table,
        folder,
        "--outcome=force:unit=N,at_least=5",
        "--factor=gap:unit=mm,kind=continuous,setting_sd=0.02",
    )
    assert said.status == 0, said.err
    return folder


def test_version(command):
    said = command("--version")
    assert said.status == 0
    assert workbench.__version__ in said.out


def test_help_is_grouped_by_the_steps_of_the_job(command):
    said = command("--help")
    assert said.status == 0
    steps = ["\n  define\n", "\n  plan\n", "\n  run\n", "\n  fit\n", "\n  decide\n", "\n  show\n"]
    places = [said.out.index(step) for step in steps]
    assert places == sorted(places)
    assert "exit status" in said.out


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_every_command_has_help_with_an_example(command, name):
    said = command(name, "--help")
    assert said.status == 0
    assert f"example:\n  workbench {name}" in said.out
    assert f"    {name} " in command("--help").out


def test_every_option_is_carried_out():
    assert set(COMMANDS) == set(commands.COMMANDS)


@pytest.mark.parametrize("wrong", [[], ["nonsense"], ["fit"], ["plan", "x", "--kind=best"]])
def test_options_not_understood(command, wrong):
    said = command(*wrong)
    assert said.status == 2
    assert said.out == ""
    assert "usage:" in said.err


def test_a_straight_line_must_be_accepted_in_writing(command, two_level):
    asked = ("window", two_level, "--share=0.9", "--confidence=0.9", "--json")
    said = command(*asked)
    assert said.status == 4
    assert "gap" in said.json["window"]["unavailable"]
    assert not (two_level / "decisions.toml").exists()
    reason = "the gap is set by shims; force falls in proportion (workshop note 4)"
    said = command(*asked, "--accept-straight", reason)
    assert said.status == 0, said.out
    assert reason in said.json["accepted_straight"]
    assert reason in (two_level / "decisions.toml").read_text("utf-8")
    # It stands in the trial from then on, once.
    again = command(*asked, "--accept-straight", reason)
    assert again.status == 0
    assert (two_level / "decisions.toml").read_text("utf-8").count("[[decision]]") == 1


def test_the_same_seed_gives_the_same_window(command, two_level):
    asked = [
        "window",
        two_level,
        "--share=0.9",
        "--confidence=0.9",
        "--json",
        "--accept-straight=x",
    ]
    assert command(*asked, "--seed=3").out == command(*asked, "--seed=3").out


def test_share_and_confidence_are_never_assumed(command, two_level):
    said = command("window", two_level)
    assert said.status == 2
    assert "No share is stated" in said.err
    said = command("window", two_level, "--share=0.9")
    assert "No confidence is stated" in said.err
    said = command("window", two_level, "--share=1", "--confidence=0.9")
    assert said.status == 2
    assert "The share is 1" in said.err


def test_window_without_a_requirement(command, tmp_path):
    table = write(tmp_path, "t.csv", "gap,force\n1,9\n2,7\n1,9.2\n2,7.1\n")
    command("adopt", table, tmp_path / "a", "--outcome=force", "--factor=gap:kind=continuous")
    said = command("window", tmp_path / "a", "--share=0.9", "--confidence=0.9")
    assert said.status == 2
    assert "No outcome of this trial has a requirement" in said.err


def test_parts_that_pass_as_often_as_they_fail(command, tmp_path):
    rows = "\n".join(f"{gap},{word}" for gap in (1, 2, 3) for word in ("pass", "fail"))
    table = write(tmp_path, "t.csv", f"gap,wetted\n{rows}\n")
    said = command(
        "adopt",
        table,
        tmp_path / "a",
        "--outcome=wetted:kind=pass-fail",
        "--factor=gap:kind=continuous,setting_sd=0",
    )
    assert said.status == 0, said.err
    said = command("fit", tmp_path / "a", "--json")
    assert said.status == 0
    (test,) = said.json["outcomes"]["wetted"]["tests"]
    assert test["p"] > 0.9
    said = command("window", tmp_path / "a", "--share=0.9", "--confidence=0.9", "--json")
    assert said.status == 4
    assert "wetted" in said.json["window"]["unavailable"]


def test_a_constant_outcome_is_an_answer(answered, command, tmp_path):
    rows = "\n".join(f"{gap},4" for gap in (1, 2, 3, 1, 2, 3))
    table = write(tmp_path, "t.csv", f"gap,force\n{rows}\n")
    command(
        "adopt",
        table,
        tmp_path / "a",
        "--outcome=force:kind=measured",
        "--factor=gap:kind=continuous",
    )
    fit = answered("fit", tmp_path / "a")["outcomes"]["force"]
    assert fit["residual_sd"] == 0
    assert fit["effects"][0]["size"] == 0
    text = command("fit", tmp_path / "a")
    assert text.status == 0
    assert "did not change" in text.out


def test_points_begin_where_a_name_comes_again(answered, two_level):
    answer = answered("predict", two_level, "--at", "gap=1", "gap=2", "--at", "gap=1.5")
    assert [one["settings"]["gap"] for one in answer["points"]] == [1, 2, 1.5]


@pytest.mark.parametrize(
    ("pair", "words"),
    [
        ("width=1", "names no factor"),
        ("gap", "names no factor"),
        ("gap=wide", "'wide' is not a setting of 'gap'"),
        ("gap=nan", "'nan' is not a setting of 'gap'"),
        ("gap=1e999", "'1e999' is not a setting of 'gap'"),
        ("gap=2,5", "with a decimal point"),
    ],
)
def test_points_not_understood(command, two_level, pair, words):
    said = command("predict", two_level, "--at", pair)
    assert said.status == 2
    assert words in said.err
    assert "Traceback" not in said.err


def test_excluded_runs_show_both_answers(answered, command, tmp_path):
    table = write(tmp_path, "t.csv", "gap,force\n1,9\n2,7\n1,9.2\n2,7.1\n1,3\n2,7.2\n")
    said = command(
        "adopt",
        table,
        tmp_path / "a",
        "--outcome=force",
        "--factor=gap:kind=continuous",
        "--exclude=5=housing cracked",
    )
    assert said.status == 0, said.err
    fit = answered("fit", tmp_path / "a")["outcomes"]["force"]
    assert (fit["n_runs"], fit["n_excluded"]) == (5, 1)
    assert fit["with_excluded"]["n_runs"] == 6
    assert fit["with_excluded"]["residual_sd"] > 5 * fit["residual_sd"]
    assert "with the excluded runs counted in" in command("fit", tmp_path / "a").out
    whole = answered("fit", tmp_path / "a", "--with-excluded")["outcomes"]["force"]
    assert whole["n_runs"] == 6


def test_a_hand_in_the_results_is_noticed(command, two_level):
    table = two_level / "results.csv"
    table.write_bytes(table.read_bytes().replace(b"9.4", b"94"))
    said = command("fit", two_level, "--json")
    assert said.status == 0
    assert "changed by hand" in said.err
    assert "workbench take" in said.err
    assert said.json["outcomes"]["force"]["residual_sd"] < 1


def test_our_fault_keeps_its_traceback(command, two_level, monkeypatch):
    def broken(_chosen):
        raise ZeroDivisionError("a bug")

    monkeypatch.setitem(commands.COMMANDS, "fit", broken)
    said = command("fit", two_level)
    assert said.status == 1
    assert "ZeroDivisionError" in said.err
    assert "fault of the workbench" in said.err


def test_interrupted(command, two_level, monkeypatch):
    def stopped(_chosen):
        raise KeyboardInterrupt

    monkeypatch.setitem(commands.COMMANDS, "fit", stopped)
    said = command("fit", two_level)
    assert said.status == 130
    assert "Interrupted" in said.err


def test_a_reader_that_leaves_is_no_error(two_level):
    read, write_end = os.pipe()
    os.close(read)
    done = subprocess.run(
        [sys.executable, "-m", "workbench", "fit", str(two_level), "--json"],
        stdout=write_end,
        stderr=subprocess.PIPE,
        text=True,
        check=False,
    )
    os.close(write_end)
    assert done.returncode == 141
    assert "Traceback" not in done.stderr


def test_a_terminal_of_few_letters_still_answers(two_level):
    done = subprocess.run(
        [sys.executable, "-m", "workbench", "fit", str(two_level)],
        capture_output=True,
        env=os.environ | {"PYTHONIOENCODING": "ascii"},
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert b"gap" in done.stdout
    done = subprocess.run(
        [sys.executable, "-m", "workbench", "fit", str(two_level), "--json"],
        capture_output=True,
        env=os.environ | {"PYTHONIOENCODING": "ascii"},
        check=False,
    )
    assert json.loads(done.stdout)["outcomes"]["force"]["unit"] == "N"


def test_the_server_listens_here_only(tmp_path):
    command = server_command(tmp_path, port=8912, shows_browser=False)
    assert "--ServerApp.ip=127.0.0.1" in command
    assert f"--ServerApp.root_dir={tmp_path.resolve()}" in command
    assert not any("token" in one for one in command)
    is_root = hasattr(os, "geteuid") and os.geteuid() == 0
    assert ("--allow-root" in command) == is_root


def test_open_refuses_what_is_no_folder(command, tmp_path):
    said = command("open", tmp_path / "missing")
    assert said.status == 2
    assert "no such folder" in said.err


def test_progress_is_counted_where_somebody_watches(monkeypatch):
    class Watched(io.StringIO):
        def isatty(self):
            return True

    watched = Watched()
    monkeypatch.setattr(sys, "stderr", watched)
    say = commands._progress("drawing")
    say(1, 2)
    say(2, 2)
    assert watched.getvalue() == "\rdrawing: 1 of 2\rdrawing: 2 of 2\n"


def test_as_a_module(monkeypatch, capsys):
    monkeypatch.setattr(sys, "argv", ["workbench", "--version"])
    assert main() == 0
    assert workbench.__version__ in capsys.readouterr().out
