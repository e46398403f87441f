"""The planning form: every trial goes through it unchanged, and every slip finds its field."""

import shutil
from dataclasses import replace

import pytest

import workbench as wb
from workbench.define.constraints import Forbidden, LinearLimit
from workbench.define.factors import Continuous, Role, Spread, Stepped
from workbench.define.outcomes import Counted, Graded, PassFail, target
from workbench.errors import FileError, PlanError
from workbench.steps.panel_draft import draft_of, problems_of, text_of
from workbench.steps.panel_plan import (
    changes_since,
    compared_plans,
    plan_form,
    take_plan,
    write_draft,
)

DEMOS = ("lid_seal", "lid_seal_loads", "plate_bond", "sensor_wire")


@pytest.fixture
def folder(tmp_path):
    made = tmp_path / "lid_seal"
    made.mkdir()
    shutil.copy(wb.files.demo_folder("lid_seal") / "trial.toml", made / "trial.toml")
    return made


def typed(draft, name, /, **texts):
    """Return the draft with other texts in the section of that name or kind of section."""
    return tuple(
        replace(one, texts={**one.texts, **texts})
        if name in (one.texts.get("name"), one.section)
        else one
        for one in draft
    )


@pytest.mark.parametrize("name", DEMOS)
def test_a_trial_goes_through_the_form_unchanged(name):
    trial = wb.files.read_trial(wb.files.demo_folder(name))
    assert wb.files.trial_from_text(text_of(draft_of(trial))) == trial
    assert problems_of(draft_of(trial)) == ()


def test_every_kind_of_section_goes_through_the_form_unchanged():
    trial = wb.files.read_trial(wb.files.demo_folder("plate_bond"))
    room = Continuous(
        name="room: door, open",
        low=10,
        high=30,
        unit="°C",
        setting_sd=0.0,
        role=Role.NOISE,
        spread=Spread(shape="normal", centre=21.5, width=2.25),
    )
    dial = Stepped(name="dial", steps=(1, 2.5, 4), unit="1", setting_sd=None, slow=True)
    whole = replace(
        trial,
        factors=(*trial.factors, room, dial),
        outcomes=(
            *trial.outcomes,
            PassFail(name="wetted", passes="wet", fails="dry"),
            Graded(name="haze", grades=("none, at all", "some", "much")),
            Counted(name="skips", unit="1", out_of=12),
            replace(trial.outcomes[0], name="gap", requirement=target(0.05, tolerance=0.01)),
        ),
        constraints=(
            Forbidden(where=(("dial", 1, 2.5),), levels=(("activator", "none"),), reason="slips"),
            LinearLimit(
                coefficients=(("drop volume", 1.5), ("press time", -2.0)), at_most=3, reason="runs"
            ),
        ),
        cautions=("Screen closed; always.", "Gloves, thick ones."),
        model="first-order",
    )
    assert wb.files.trial_from_text(text_of(draft_of(whole))) == whole


@pytest.mark.parametrize(
    ("name", "texts", "section", "key", "words"),
    [
        ("bead volume", {"low": "lots"}, "factor", "low", "'lots' is not a number"),
        ("bead volume", {"low": "500"}, "factor", "low", "Exchange the two"),
        ("nozzle height", {"setting_sd": ""}, "factor", "setting_sd", "no usual value"),
        ("budget", {"parts": "-3"}, "budget", "parts", "above zero"),
        ("trial", {"share": "1,5"}, "trial", "share", "below 1"),
        ("trial", {"model": "beed"}, "trial", "model", "no factor"),
        ("peel force", {"name": "leak rate"}, "outcome", "name", "stands twice"),
        ("squeeze-out width", {"at_least": "2"}, "outcome", "at_least", "No part can meet it"),
        ("nozzle bore", {"name": ""}, "held", "name", "is missing"),
    ],
)
def test_a_slip_is_said_at_its_field(folder, name, texts, section, key, words):
    found = problems_of(typed(plan_form(folder).draft, name, **texts))
    at = [one for one in found if (one.section, one.key) == (section, key)]
    assert at, found
    assert words in at[0].words


def test_a_decimal_comma_is_taken(folder):
    draft = typed(plan_form(folder).draft, "bead volume", low="262,5", setting_sd="4,25")
    trial = wb.files.trial_from_text(text_of(draft))
    assert (trial.factors[0].low, trial.factors[0].setting_sd) == (262.5, 4.25)


def test_writing_keeps_comments_and_changes_only_what_changed(folder):
    before = (folder / "trial.toml").read_text("utf-8").splitlines()
    form = plan_form(folder)
    write_draft(folder, typed(form.draft, "bead volume", low="250"), read_as=form.trial)
    after = (folder / "trial.toml").read_text("utf-8").splitlines()
    changed = [(a, b) for a, b in zip(before, after, strict=True) if a != b]
    assert changed == [("low = 260.0", "low = 250")]


def test_a_change_made_elsewhere_is_never_undone_unasked(folder):
    form = plan_form(folder)
    path = folder / "trial.toml"
    path.write_text(path.read_text("utf-8").replace("low = 260.0", "low = 270.0"), "utf-8")
    assert changes_since(folder, form.trial) == ("factor 'bead volume': low was 260, is 270",)
    with pytest.raises(FileError, match="changed since it was read"):
        write_draft(folder, typed(form.draft, "bead volume", high="430"), read_as=form.trial)
    assert "low = 270.0" in path.read_text("utf-8")
    with pytest.raises(PlanError, match="not the trial that was compared"):
        take_plan(folder, "definitive-9", read_as=form.trial)


@pytest.mark.slow
def test_plans_are_compared_and_the_recommended_one_is_taken(folder):
    form = plan_form(folder)
    assert form.plan == "No plan is written yet."
    found = compared_plans(form.draft)
    best = next(one for one in found.plans if one.recommended)
    assert [one.outcome for one in best.found] == ["leak rate", "squeeze-out width", "peel force"]
    assert {one.verdict for one in best.found} == {"meets"}
    assert any(one.is_whole for plan in found.plans for one in plan.joined)
    corner, middle = best.precision.rows[0][0], best.precision.rows[2][2]
    assert float(middle) < float(corner)
    assert str(best.runs) in take_plan(folder, best.name, read_as=form.trial)
    trial = wb.files.read_trial(folder)
    assert len(wb.files.read_plan(folder, trial)) == best.runs


def test_a_draft_that_is_no_trial_has_no_plans_but_a_reason(folder):
    found = compared_plans(typed(plan_form(folder).draft, "bead volume", low="lots"))
    assert found.plans == ()
    assert "'lots' is not a number" in found.problem
