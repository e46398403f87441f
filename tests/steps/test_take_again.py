"""What take does when it is done again: after a table was held open, and to settle."""

from pathlib import Path

import pytest

from workbench.define import Continuous, Measured, Trial
from workbench.errors import FileError, RecordError
from workbench.files import read_journal, write_trial
from workbench.steps.take import take_table
from workbench.steps.trials import open_trial

TRIAL = Trial(
    title="made up",
    question="?",
    factors=(Continuous(name="dwell", low=1, high=4, unit="s", setting_sd=0),),
    outcomes=(Measured(name="force", unit="N"),),
)


@pytest.fixture
def folder(tmp_path):
    write_trial(tmp_path / "trial", TRIAL)
    return tmp_path / "trial"


def table(folder, name, force):
    path = folder.parent / name
    path.write_text(f"run,dwell as run (s),force (N)\n1,2.5,{force}\n", "utf-8")
    return path


def forces(folder):
    return open_trial(folder).record.readings["force"].value.tolist()


def test_a_table_held_open_is_rebuilt_when_the_same_file_is_taken_again(folder, monkeypatch):
    monkeypatch.setattr("workbench.files.atomic.PAUSES", ())
    real = Path.replace

    def held(self, target):
        if target.name == "results.csv":
            raise PermissionError(13, "Access is denied")
        return real(self, target)

    with monkeypatch.context() as patch:
        patch.setattr(Path, "replace", held)
        with pytest.raises(FileError, match=r"holds it open.*the journal holds them all"):
            take_table(folder, table(folder, "a.csv", 7), who="Mira")
    assert forces(folder) == [7.0]
    assert not (folder / "results.csv").exists()
    n_entries = len(read_journal(folder).entries)
    take_table(folder, table(folder, "a.csv", 7), who="Mira")
    assert len(read_journal(folder).entries) == n_entries
    assert "7" in (folder / "results.csv").read_text("utf-8").splitlines()[1]


def test_what_others_enter_while_a_table_is_settled_stays_a_conflict(folder, monkeypatch):
    take_table(folder, table(folder, "a.csv", 7), who="Mira", writer="mira")
    real = read_journal

    def meanwhile(where):
        found = real(where)
        monkeypatch.setattr("workbench.steps.take.files.read_journal", real)
        take_table(folder, table(folder, "b.csv", 9), who="Mira", writer="mira")
        return found

    monkeypatch.setattr("workbench.steps.take.files.read_journal", meanwhile)
    with pytest.raises(RecordError, match="Mira"):
        take_table(folder, table(folder, "c.csv", 8), who="Tomas", writer="tomas", settles=True)
    with pytest.raises(RecordError, match=r"Mira \(mira\) entered 9, Tomas \(tomas\) 8"):
        forces(folder)
    take_table(folder, table(folder, "c.csv", 8), who="Tomas", writer="tomas", settles=True)
    assert forces(folder) == [8.0]
