"""A trial changed after its first result: every answer says so."""

import pytest

import workbench as wb
from workbench.cli import main
from workbench.define import Continuous, Measured, Trial, at_least
from workbench.files import append, write_plan, write_trial
from workbench.files.entries import ReadingEntry

TRIAL = Trial(
    title="made up",
    question="?",
    factors=(
        Continuous(name="dwell", low=1, high=4, unit="s", setting_sd=0),
        Continuous(name="gap", low=0.1, high=0.3, unit="mm", setting_sd=0),
    ),
    outcomes=(Measured(name="force", unit="N", requirement=at_least(1)),),
    model="first-order",
)


@pytest.fixture
def folder(tmp_path):
    write_trial(tmp_path, TRIAL)
    plan = wb.plan.full(TRIAL, seed=1, replicates=2)
    write_plan(tmp_path, plan)
    some = [
        ReadingEntry(
            run=run, part=1, reading=1, outcome="force", text=f"{run}", value=run, unit="N"
        )
        for run in range(1, len(plan) + 1)
    ]
    append(tmp_path, some, writer="bench", who="Mira")
    return tmp_path


COMMANDS = (
    ["fit"],
    ["predict", "--at", "dwell=2", "--at", "gap=0.2"],
    ["window", "--share", "0.9"],
)


def said(capsys, folder, command):
    main([command[0], str(folder), *command[1:], "--json"])
    return " ".join(capsys.readouterr().err.split())


@pytest.mark.parametrize("command", COMMANDS, ids=lambda one: one[0])
def test_every_answer_says_what_was_changed(folder, capsys, command):
    assert "note:" not in said(capsys, folder, command)
    path = folder / "trial.toml"
    path.write_text(path.read_text("utf-8").replace("at_least = 1", "at_least = 0.5"), "utf-8")
    assert "outcome 'force': at_least was 1, is 0.5" in said(capsys, folder, command)
