"""What is done before the first run: corners inside the plan, and a rule by which to stop."""

from dataclasses import replace

from workbench.define.cautions import COMMON
from workbench.define.factors import Continuous
from workbench.define.outcomes import Measured
from workbench.define.trial import Trial
from workbench.plan.repeats import USUAL_STOPPING_RULE
from workbench.plan.starting import dry_run, stopping_rule
from workbench.plan.two_level import full

TRIAL = Trial(
    title="a",
    question="",
    factors=tuple(
        Continuous(name=name, low=0, high=1, unit="", setting_sd=0) for name in ("x", "y", "z")
    ),
    outcomes=(Measured(name="w", unit="N"),),
)


def test_the_dry_run_asks_for_four_corners_of_the_plan():
    plan = full(TRIAL, seed=1)
    asked = dry_run(plan)
    assert len(asked.corners) == 4
    rows = {tuple(row) for row in plan.settings.values.tolist()}
    assert {tuple(row) for row in asked.corners.values.tolist()} <= rows
    assert "at each of these corners" in asked.text
    assert "These 4 parts come on top of the plan" in asked.text


def test_the_stopping_rule_is_the_trials_own_or_said_to_be_the_usual_one():
    assert stopping_rule(TRIAL).text == USUAL_STOPPING_RULE
    assert stopping_rule(TRIAL).basis == COMMON
    own = stopping_rule(replace(TRIAL, stopping_rule=" Stop at smoke. "))
    assert (own.text, own.basis) == ("Stop at smoke.", "")
