"""A check finds every mistake at once, places it, and changes nothing."""

import hashlib
import json
from datetime import UTC, datetime, timedelta

import invented_bond as bond
import pytest

from workbench import files
from workbench.cli import main
from workbench.errors import RecordError, WorkbenchError
from workbench.files.entries import Attachment, ReadingEntry, RunEntry, Setting
from workbench.steps.checking import check_trial

NOW = datetime(2026, 3, 9, 12, tzinfo=UTC)


def reading(run, value, outcome="peel force", unit="N"):
    return ReadingEntry(
        run=run, part=1, reading=1, outcome=outcome, text=str(value), value=value, unit=unit
    )


@pytest.fixture
def folder(tmp_path):
    place = tmp_path / "bond"
    place.mkdir()
    files.write_trial(place, bond.TRIAL)
    files.write_plan(place, bond.plan())
    return place


def state(folder):
    return {
        path.relative_to(folder): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in folder.rglob("*")
        if path.is_file()
    }


def mended(found):
    return "\n".join(str(one) for one in found.remarks.mend)


def noted(found):
    return "\n".join(str(one) for one in found.remarks.notes)


def test_a_sound_trial_has_nothing_to_mend_and_is_left_as_it_is(folder):
    files.append(folder, [reading(1, 30.5)], writer="bench", who="Mira", when=NOW)
    before = state(folder)
    found = check_trial(folder, now=NOW)
    assert mended(found) == ""
    assert found.is_sound
    assert "results/bench.jsonl" in found.looked_at
    assert any(one.kind == "missing" and one.runs == (2, 3, 4) for one in found.happened)
    assert state(folder) == before


def test_every_mistake_of_a_trial_is_named_with_its_line(folder):
    path = folder / "trial.toml"
    text = path.read_text(encoding="utf-8")
    text = text.replace("low = 260", 'low = "260 mm"').replace('unit = "N"', 'unitt = "N"')
    path.write_text("colour = 1\n" + text, encoding="utf-8")
    found = check_trial(folder, now=NOW)
    said = mended(found)
    assert "line 1" in said
    assert "'colour' is not known" in said
    assert "'260 mm' is not a number" in said
    assert "'unitt' is not known" in said
    assert not found.is_sound


def test_every_changed_cell_of_a_plan_is_named(folder):
    path = folder / "plan.csv"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("260", "two hundred"), encoding="utf-8")
    said = mended(check_trial(folder, now=NOW))
    assert "row 2, column 'bead volume'" in said
    assert "row 3, column 'bead volume'" in said


def test_every_changed_line_of_a_journal_is_named(folder):
    entries = [reading(run, 30.0 + run) for run in (1, 2, 3, 4)]
    files.append(folder, entries, writer="bench", who="Mira", when=NOW)
    path = folder / "results" / "bench.jsonl"
    text = path.read_text(encoding="utf-8").replace("31.0", "41.0").replace("33.0", "43.0")
    path.write_text(text, encoding="utf-8")
    said = mended(check_trial(folder, now=NOW))
    assert "results/bench.jsonl, line 1" in said
    assert "results/bench.jsonl, line 3" in said
    assert "line 2" not in said


def test_entries_that_do_not_fit_the_trial_are_named(folder):
    wrong = [
        reading(1, 3.0, outcome="gloss"),
        reading(2, 3.0, unit="mm"),
        RunEntry(run=3, settings=(Setting(factor="activator", value="dipped", unit=""),)),
        RunEntry(run=4, settings=(Setting(factor="colour", value=1.0, unit=""),)),
        reading(9, 30.0),
    ]
    files.append(folder, wrong, writer="bench", who="Mira", when=NOW)
    found = check_trial(folder, now=NOW)
    said = mended(found)
    for words in ("'gloss'", "entered in mm", "'dipped'", "'colour'"):
        assert words in said
    for entry in (1, 2, 3, 4):
        assert f"results/bench.jsonl, entry {entry}" in said
    assert "runs that are not planned: 9" in noted(found)


def test_two_values_for_one_reading_must_be_settled(folder):
    files.append(folder, [reading(1, 30.5)], writer="bench", who="Mira", when=NOW)
    files.append(folder, [reading(1, 31.5)], writer="office", who="Tomas", when=NOW)
    said = mended(check_trial(folder, now=NOW))
    assert "30.5" in said
    assert "31.5" in said
    assert "--settle" in said


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        (reading(1, 7.0, outcome="look", unit=""), "among the 3"),
        (reading(1, 2.0, outcome="tight", unit=""), "among the 2"),
        (
            RunEntry(run=1, settings=(Setting(factor="bead volume", value="much", unit=""),)),
            "the word 'much'",
        ),
        (RunEntry(run=1, status="perhaps"), "the status 'perhaps'"),
    ],
)
def test_words_that_the_trial_no_longer_has_are_named(folder, entry, words):
    files.append(folder, [entry], writer="bench", who="Mira", when=NOW)
    assert words in mended(check_trial(folder, now=NOW))
    trial = files.read_trial(folder)
    with pytest.raises(RecordError, match=words):
        files.read_record(folder, trial, files.read_plan(folder, trial))


def test_a_clock_ahead_is_noted(folder):
    later = NOW + timedelta(days=2)
    files.append(folder, [reading(1, 30.5)], writer="bench", who="Mira", when=later)
    found = check_trial(folder, now=NOW)
    assert found.is_sound
    assert "yet to come" in noted(found)


def test_files_of_runs_are_looked_at(folder):
    photo = folder / "photos" / "run_1.jpg"
    photo.parent.mkdir()
    photo.write_bytes(b"light")
    digest = hashlib.sha256(b"light").hexdigest()
    entry = RunEntry(
        run=1,
        attachments=(
            Attachment(path="photos/run_1.jpg", digest=digest),
            Attachment(path="photos/run_2.jpg", digest=digest),
        ),
    )
    files.append(folder, [entry], writer="bench", who="Mira", when=NOW)
    said = mended(check_trial(folder, now=NOW))
    assert "photos/run_2.jpg: The file that belongs to this run is not here." in said
    assert "run_1" not in said
    photo.write_bytes(b"dark")
    assert "run_1.jpg: The file is not the one" in mended(check_trial(folder, now=NOW))


def test_decisions_leftovers_strangers_and_notebooks(folder):
    (folder / "decisions.toml").write_text('[[decision]]\nwhat = "a"\n[[decision]]\nat = 1\n')
    (folder / ".plan.csv.abc.new").write_text("half")
    (folder / "~$run_sheet.xlsx").write_text("")
    (folder / "notes.txt").write_text("mine")
    (folder / "a.ipynb").write_text("{}")
    found = check_trial(folder, now=NOW)
    assert "decisions.toml, entry 1" in mended(found)
    assert "decisions.toml, entry 2" in mended(found)
    for words in (".plan.csv.abc.new", "~$run_sheet.xlsx", "notes.txt", "a.ipynb"):
        assert words in noted(found)


def test_a_table_edited_by_hand_is_to_mend_and_an_old_one_is_noted(folder):
    files.append(folder, [reading(1, 30.5)], writer="bench", who="Mira", when=NOW)
    trial = files.read_trial(folder)
    plan = files.read_plan(folder, trial)
    files.write_results(folder, files.read_record(folder, trial, plan))
    assert check_trial(folder, now=NOW).is_sound
    files.append(folder, [reading(2, 33.5)], writer="bench", who="Mira", when=NOW)
    found = check_trial(folder, now=NOW)
    assert found.is_sound
    assert "older than the journal" in noted(found)
    with (folder / "results.csv").open("a") as stream:
        stream.write("5,,,,\n")
    assert "changed by hand" in mended(check_trial(folder, now=NOW))


def test_the_command_says_all_and_its_status_says_whether(folder, capsys):
    assert main(["check", str(folder)]) == 0
    assert "Nothing must be mended" in capsys.readouterr().out
    (folder / "plan.toml").unlink()
    assert main(["check", str(folder), "--json"]) == 2
    said = json.loads(capsys.readouterr().out)
    assert said["sound"] is False
    assert said["mend"][0]["place"] == "plan.toml"
    assert set(said) == {"sound", "mend", "notes", "happened", "looked_at"}


def test_what_is_no_trial_is_not_checked(tmp_path):
    with pytest.raises(WorkbenchError, match="no trial"):
        check_trial(tmp_path)
