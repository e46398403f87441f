"""What the budget says of days and cost: read, written, and refused where it cannot be."""

import dataclasses

import pytest

from workbench.define import Budget
from workbench.errors import DefinitionError
from workbench.files.starter import starter_text
from workbench.files.trial_toml import trial_from_text
from workbench.files.trial_write import edited_text, trial_text

RATES = {
    "runs_per_day": 12.5,
    "resets_per_day": 3.0,
    "cost_per_part": 4.5,
    "cost_per_reset": 120.0,
}


@pytest.fixture
def trial():
    return trial_from_text(starter_text(seed=7))


def test_rates_and_costs_there_and_back(trial):
    full = dataclasses.replace(trial, budget=Budget(parts=60, **RATES))
    assert trial_from_text(trial_text(full)).budget == full.budget
    assert trial_from_text(edited_text(starter_text(seed=7), full)).budget == full.budget


def test_the_starter_shows_every_key(trial):
    shown = starter_text(seed=7)
    for key in RATES:
        line = next(line for line in shown.splitlines() if line.startswith(f"# {key} ="))
        shown = shown.replace(line, line.removeprefix("# "))
    budget = trial_from_text(shown).budget
    assert all(getattr(budget, key) is not None for key in RATES)
    assert all(getattr(trial.budget, key) is None for key in RATES)


@pytest.mark.parametrize("key", RATES)
@pytest.mark.parametrize("value", [0, -1])
def test_a_rate_is_above_zero(key, value):
    text = starter_text(seed=7).replace("[budget]", f"[budget]\n{key} = {value}")
    with pytest.raises(DefinitionError, match=f"The budget states {value} {key}") as raised:
        trial_from_text(text)
    assert f"key {key}" in raised.value.place


def test_a_word_is_no_rate():
    text = starter_text(seed=7).replace("[budget]", '[budget]\nruns_per_day = "12"')
    with pytest.raises(DefinitionError, match="'12' is not a number"):
        trial_from_text(text)
