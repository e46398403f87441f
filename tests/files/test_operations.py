"""Starters of the operations: read, marked line by line, planned, and on a sheet with cautions."""

import re

import pytest

import workbench as wb
from workbench.cli.new_options import OPERATIONS
from workbench.define.cautions import cautions_for
from workbench.define.hazards import hazards_of
from workbench.errors import OptionError
from workbench.steps.checking import check_trial
from workbench.steps.choosing import ChoiceWish, compare_plans

NAMES = wb.files.operation_names()
# Keys whose value is a fact of the trade or a choice, so that each line has to say which.
MARKED = (
    *("low", "high", "steps", "levels", "setting_sd", "reset_cost", "slow", "role", "value"),
    *("at_least", "at_most", "between", "worth_finding", "expected_sd", "gauge_low", "scale"),
    *("method", "wait", "destructive", "grades", "parts", "days", "parts_per_run", "model"),
    "stopping_rule",
)
MARK = re.compile(r"#.*(common practice, no source|trade guidance|placeholder|source: ASTM)", re.I)
HAZARDS = {
    "bead-seal": {"silicone", "pressurised dispenser"},
    "centre-and-press": {"press", "strong magnets", "high-voltage magnetising"},
    "cure": {"oven", "solvent", "acrylate"},
    "end-of-line-test": {"press"},
    "fine-soldering": {"hot iron", "flux fume"},
    "instant-bond": {"instant adhesive", "acrylate", "activator vapour", "pressurised dispenser"},
    "primed-bond": {"acrylate", "activator vapour", "solvent", "pressurised dispenser"},
    "water-based-bond": {"solvent", "oven", "press"},
}
SLOW = {"bead-seal", "centre-and-press", "cure", "primed-bond", "water-based-bond"}


def text_of(name):
    return wb.files.operation_text(name, seed=7, date="2026-01-01")


def filled(name):
    text = text_of(name)
    return text.replace("# share =", "share = 0.95").replace("# confidence =", "confidence = 0.9")


@pytest.fixture(params=NAMES)
def name(request):
    return request.param


@pytest.fixture
def folder(name, tmp_path):
    (tmp_path / "trial.toml").write_text(filled(name), encoding="utf-8")
    return tmp_path


def test_every_operation_of_the_trade_is_there_and_the_help_names_each():
    assert set(NAMES) == set(HAZARDS)
    assert NAMES == OPERATIONS


def test_share_and_confidence_are_asked_for_and_never_assumed(name):
    trial = wb.files.trial_from_text(text_of(name))
    assert trial.share is None
    assert trial.confidence is None
    assert wb.files.trial_from_text(filled(name)).share == 0.95


def test_it_says_that_its_numbers_have_to_be_checked_and_replaced(name):
    trial = wb.files.trial_from_text(text_of(name))
    assert "checked against data sheets and replaced by your own" in trial.invented
    assert "Data sheets, local codes and licensed practice always come first." in text_of(name)


def test_every_fact_says_where_it_comes_from(name):
    unmarked = [
        line
        for line in text_of(name).splitlines()
        if line.split(" = ")[0] in MARKED and not MARK.search(line)
    ]
    assert unmarked == []


def test_a_range_is_worth_testing(name):
    # Four times the setting tolerance, which is twice the standard deviation stated.
    for one in wb.files.trial_from_text(text_of(name)).factors:
        if getattr(one, "setting_sd", None):
            assert one.high - one.low >= 4 * 2 * one.setting_sd, one.name


def test_it_shows_the_hazards_of_the_work(name):
    trial = wb.files.trial_from_text(text_of(name))
    assert HAZARDS[name] <= set(hazards_of(trial))
    pulled = [one for one in trial.outcomes if one.destructive]
    assert bool(pulled) == ("pull test" in hazards_of(trial))


def test_what_is_slow_says_what_a_reset_costs(name):
    slow = [one for one in wb.files.trial_from_text(text_of(name)).factors if one.slow]
    assert bool(slow) == (name in SLOW)
    assert all(one.reset_cost for one in slow)


def test_a_bond_is_pulled_after_full_cure(name):
    for one in wb.files.trial_from_text(text_of(name)).outcomes:
        if one.destructive and name != "fine-soldering":
            assert "24 to 72 h" in one.wait


def test_filled_in_it_has_no_mistake_is_planned_and_prints_its_cautions(folder, name):
    assert check_trial(folder).remarks.mend == ()
    most = 51 if name == "instant-bond" else 28  # a category and four settings need more
    found = compare_plans(folder, ChoiceWish(runs_at_most=most)).comparison
    trial = wb.files.read_trial(folder)
    assert trial.budget.parts >= len(found.recommended.plan) * trial.budget.parts_per_run
    page = wb.show.run_sheet(trial, found.recommended.plan)
    for one in cautions_for(hazards_of(trial)):
        assert one.title in page
    for line in trial.cautions:
        assert line in page
    assert "licensed practice" in page


def test_another_operation_is_refused_and_the_known_ones_are_named():
    with pytest.raises(OptionError, match="no starter for an operation 'knitting'") as caught:
        wb.files.operation_text("knitting", seed=7)
    assert "bead-seal, centre-and-press, cure" in caught.value.next_step


@pytest.mark.parametrize("name", ["", "..", "../starters/cure", "plan_this_trial"])
def test_a_path_is_no_operation(name):
    with pytest.raises(OptionError, match="no starter"):
        wb.files.operation_text(name, seed=7)
