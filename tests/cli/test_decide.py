"""`workbench decide`: what a meeting types, kept and said back."""

import pytest


@pytest.fixture
def trial(command, tmp_path):
    assert command("new", tmp_path / "seal").status == 0
    return tmp_path / "seal"


def test_decided_and_open_are_said_back(command, trial):
    said = command("decide", trial, "Which lot?", "--question", "--by", "Tomas")
    assert said.status == 0
    assert "1  Which lot? (Tomas)" in said.out
    said = command("decide", trial, "Run at 0.9 mm", "--by", "Mira", "--reason", "it holds")
    assert said.out.index("Run at 0.9 mm (Mira)") < said.out.index("Which lot? (Tomas)")
    assert "workbench report" in said.out


def test_as_json(answered, trial):
    answered("decide", trial, "Which lot?", "--question", "--by", "Tomas")
    found = answered("decide", trial, "Two lots", "--answers", "1", "--by", "Mira")
    (one,) = found["decided"]
    assert one["what"] == "Two lots"
    assert one["answers"] == "Which lot?"
    assert found["open"] == []


@pytest.mark.parametrize(
    ("more", "wrong"),
    [(["Two lots", "--answers", "3"], "No question 3 is open"), ([" "], "The text is empty")],
)
def test_mistakes_are_named_and_leave_nothing(command, trial, more, wrong):
    said = command("decide", trial, *more, "--by", "Mira")
    assert said.status == 2
    assert wrong in said.err
    assert not (trial / "decisions.toml").exists()
