"""A zero that was really read: confirmed with a reason, it is asked about no more."""

import json

import pytest

from workbench import files
from workbench.cli import main
from workbench.define import Continuous, Measured, Trial
from workbench.errors import WorkbenchError
from workbench.run import Kind, Weight, findings
from workbench.steps.checking import check_trial
from workbench.steps.take import take_table
from workbench.steps.trials import open_trial
from workbench.steps.true_zeros import ConfirmWish, confirm_zeros, parse_zero

PULLS = (5.1, 0, 4.4, 7.9, 0, 4.7, 8.0, 5.3)


def trial(scale="as read"):
    return Trial(
        title="lid seal (invented)",
        question="Which bead holds the lid?",
        factors=(Continuous(name="bead", low=0, high=9, unit="mm", setting_sd=0.1),),
        outcomes=(Measured(name="pull", unit="N", scale=scale),),
    )


def to_log_scale(folder):
    (folder / "trial.toml").unlink()
    files.write_trial(folder, trial("log"))


def take(folder, pulls, who="mira", **said):
    table = folder.parent / f"{folder.name}_{len(pulls)}_{who}.csv"
    rows = "".join(f"{run},{run},{pull}\n" for run, pull in pulls.items())
    table.write_text("run,bead as run,pull [N]\n" + rows)
    take_table(folder, table, who=who, writer=who, **said)


@pytest.fixture
def folder(tmp_path):
    home = tmp_path / "lid_seal"
    home.mkdir()
    files.write_trial(home, trial())
    take(home, dict(enumerate(PULLS, start=1)))
    return home


def confirm(folder, *zeros, reason="gauge showed 0.00, read twice", who="Jo"):
    wish = ConfirmWish(zeros=[parse_zero(one) for one in zeros], reason=reason, who=who)
    return confirm_zeros(folder, wish)


def of(kind, folder):
    return [one for one in findings(open_trial(folder).record) if one.kind is kind]


def test_a_zero_is_asked_about_until_it_is_confirmed(folder):
    (asked,) = of(Kind.ZEROS, folder)
    assert asked.runs == (2, 5)
    assert '--confirm-zero 2:"pull"' in asked.next_step
    made = confirm(folder, "2:pull")
    assert [(one.run, one.part, one.reading) for one in made.readings] == [(2, 1, 1)]
    (left,) = of(Kind.ZEROS, folder)
    assert left.runs == (5,)
    confirm(folder, "5/1/1:pull")
    assert of(Kind.ZEROS, folder) == []


def test_a_confirmed_zero_is_said_with_its_reason_and_changes_nothing(folder):
    before = open_trial(folder).record
    confirm(folder, "2:pull")
    after = open_trial(folder).record
    (told,) = of(Kind.ZERO_CONFIRMED, folder)
    assert (told.runs, told.weight) == ((2,), Weight.NOTE)
    assert "Jo" in told.sentence
    assert "gauge showed 0.00, read twice" in told.sentence
    assert after.readings["pull"].value.tolist() == before.readings["pull"].value.tolist()
    assert after.corrections == ()
    assert check_trial(folder).is_sound


def test_confirming_twice_adds_nothing(folder):
    confirm(folder, "2:pull")
    again = confirm(folder, "2:pull", "5:pull")
    assert ([one.run for one in again.readings], again.n_before) == ([5], 1)


def test_another_value_takes_the_confirmation_with_it(folder):
    confirm(folder, "2:pull", who="mira")
    take(folder, {2: 4.9}, settles=True, reason="typed into the wrong row")
    take(folder, {2: 0.0, 3: 4.4}, settles=True, reason="it was right after all")
    (asked,) = of(Kind.ZEROS, folder)
    assert asked.runs == (2, 5)
    assert open_trial(folder).record.confirmed == ()


@pytest.mark.parametrize(
    ("zero", "reason", "words"),
    [
        ("2:pull", "  ", "without a reason"),
        ("1:pull", "seen", "No reading of pull is exactly 0 in run 1"),
        ("2/2:pull", "seen", "run 2, part 2"),
        ("2/1/3:pull", "seen", "part 1, reading 3"),
        ("2:torque", "seen", "torque"),
        ("run 2", "seen", "names no reading"),
    ],
)
def test_what_cannot_be_confirmed(folder, zero, reason, words):
    with pytest.raises(WorkbenchError) as met:
        confirm(folder, zero, reason=reason)
    assert words in str(met.value)
    assert open_trial(folder).record.confirmed == ()


def test_a_log_scale_has_no_zero_to_confirm(folder):
    to_log_scale(folder)
    with pytest.raises(WorkbenchError, match="no zero that could be confirmed"):
        confirm(folder, "2:pull")


def test_a_zero_confirmed_before_the_scale_became_log_is_asked_about_again(folder):
    confirm(folder, "2:pull", "5:pull")
    assert of(Kind.ZEROS, folder) == []
    to_log_scale(folder)
    (asked,) = of(Kind.ZEROS, folder)
    assert asked.runs == (2, 5)


def test_the_command(folder, capsys):
    said = ["take", str(folder), "--confirm-zero", "2:pull", "--confirm-zero", "5:pull"]
    assert main([*said]) == 2
    assert "without a reason" in capsys.readouterr().err
    assert main([*said, "--reason", "read twice"]) == 0
    assert "confirmed: run 2, pull, part 1, reading 1: 0" in capsys.readouterr().out
    assert main([*said, "--reason", "read twice", "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == {"confirmed": [], "confirmed_before": 2}
    assert main(["take", str(folder)]) == 2
