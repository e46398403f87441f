"""Files of older schemas stay readable; the old file is kept before it is written anew."""

import re

import pytest

from workbench.errors import FileError
from workbench.files import migration, read_trial, trial_document, trial_toml, trial_write
from workbench.files.decisions import NAME, DecisionEntry, add_decision, read_decisions
from workbench.files.migration import Step, in_schema, keep_backup
from workbench.files.trial_write import write_trial

OLD_DECISIONS = """# What was decided.

[[decision]]
what = "lines are straight"  # in the Monday meeting
reason = "seen"
by = "Mira"
at = "2026-03-09"
"""
MORE = DecisionEntry(what="released", reason="see report", by="Tomas", at="2026-03-12")
TRIAL = """schema = 1
title = "made up"
question = "?"

[[factor]]
name = "dwell"
kind = "continuous"
low = 1
high = 4
unit = "s"
setting_sd = 0

[[outcome]]
name = "force"
kind = "measured"
unit = "N"
"""


def backups(folder):
    return sorted((folder / "backup").glob("*")) if (folder / "backup").exists() else []


def test_decisions_without_a_number_are_read_and_left_alone(tmp_path):
    (tmp_path / NAME).write_text(OLD_DECISIONS, "utf-8")
    assert [one.what for one in read_decisions(tmp_path)] == ["lines are straight"]
    assert (tmp_path / NAME).read_text("utf-8") == OLD_DECISIONS
    assert backups(tmp_path) == []


def test_decisions_without_a_number_are_kept_before_one_is_added(tmp_path):
    (tmp_path / NAME).write_text(OLD_DECISIONS, "utf-8")
    add_decision(tmp_path, MORE)
    text = (tmp_path / NAME).read_text("utf-8")
    assert text.startswith("schema = 1\n")
    assert "# in the Monday meeting" in text
    assert [one.what for one in read_decisions(tmp_path)] == ["lines are straight", "released"]
    (kept,) = backups(tmp_path)
    assert re.fullmatch(r"decisions\.toml\.\d{4}-\d\d-\d\dT\d{6}Z", kept.name)
    assert kept.read_text("utf-8") == OLD_DECISIONS
    add_decision(tmp_path, MORE)
    assert backups(tmp_path) == [kept]


def test_new_decisions_carry_their_number(tmp_path):
    add_decision(tmp_path, MORE)
    assert "schema = 1" in (tmp_path / NAME).read_text("utf-8")
    assert backups(tmp_path) == []


def test_decisions_of_a_newer_schema_are_refused_and_kept(tmp_path):
    text = f"schema = 2\n{OLD_DECISIONS}"
    (tmp_path / NAME).write_text(text, "utf-8")
    for use in (read_decisions, lambda folder: add_decision(folder, MORE)):
        with pytest.raises(FileError, match=r"schema 2; this workbench reads schema 1.*newer"):
            use(tmp_path)
    assert (tmp_path / NAME).read_text("utf-8") == text


@pytest.fixture
def next_schema(monkeypatch):
    """Play a workbench of tomorrow, in which trials of schema 3 call a unit something else."""
    steps = (
        Step(file="trial.toml", schema=1, change=lambda text: _numbered(text, 2) + "# from 1\n"),
        Step(
            file="trial.toml",
            schema=2,
            change=lambda text: _numbered(text, 3).replace("setting_sd = 0", "setting_sd = 0.5"),
        ),
    )
    monkeypatch.setattr(migration, "STEPS", steps)
    for module in (trial_toml, trial_write, trial_document):
        monkeypatch.setattr(module, "SCHEMA", 3)


def _numbered(text, schema):
    return re.sub(r"schema = \d", f"schema = {schema}", text)


@pytest.mark.usefixtures("next_schema")
def test_an_older_trial_goes_through_every_step_and_is_kept(tmp_path):
    path = tmp_path / "trial.toml"
    path.write_text(TRIAL, "utf-8")
    trial = read_trial(tmp_path)
    assert trial.factors[0].setting_sd == 0.5
    assert path.read_text("utf-8") == TRIAL  # reading changes nothing
    write_trial(tmp_path, trial)
    assert path.read_text("utf-8").startswith("schema = 3\n")
    assert path.read_text("utf-8").endswith("# from 1\n")
    assert [one.read_text("utf-8") for one in backups(tmp_path)] == [TRIAL]
    assert read_trial(tmp_path) == trial


@pytest.mark.parametrize(
    ("text", "same"),
    [
        ("schema = 1\nx = 1\n", True),
        ("x = 1\n", False),
        ("[a]\nschema = 1\n", False),  # a number that stands in a section is not the file's
        ("# schema = 1\n", False),
        ("  \n", True),
    ],
)
def test_the_number_is_looked_for_where_it_counts(text, same):
    assert (in_schema(text, file="decisions.toml", schema=1) == text) is same


def test_a_file_without_a_step_stays_as_it_is():
    assert in_schema("x = 1\n", file="plan.toml", schema=1) == "x = 1\n"


def test_backups_of_one_second_stand_beside_one_another(tmp_path):
    kept = {keep_backup(tmp_path / "a.toml", text) for text in (b"1", b"2", b"3")}
    assert sorted(one.read_bytes() for one in kept) == [b"1", b"2", b"3"]


def test_a_backup_that_cannot_be_made_stops_the_writing(tmp_path):
    (tmp_path / NAME).write_text(OLD_DECISIONS, "utf-8")
    (tmp_path / "backup").write_text("in the way")
    with pytest.raises(FileError, match="folder backup cannot be made"):
        add_decision(tmp_path, MORE)
    assert (tmp_path / NAME).read_text("utf-8") == OLD_DECISIONS
