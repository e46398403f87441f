"""Figures of a plan: what they draw is what was computed, and no word of a user is obeyed."""

import dataclasses

import numpy as np
import pytest
from scipy.stats import t

from workbench import plan, show, steps
from workbench.define import Budget, Continuous, Measured, Trial
from workbench.errors import PlanError, Unavailable
from workbench.jupyter.renderers import markup
from workbench.plan.mixing import second_order_terms
from workbench.show.alias_arcs import alias_sentence
from workbench.show.chance_bars import chance_sentence
from workbench.show.precision_lines import precision_sentence

ODD = 'gap <img src=x onerror="alert(1)"> & $y$'
FORCE = Measured(name="pull <b>force</b>", unit="N", worth_finding=12.0, expected_sd=8.0)
LEAK = Measured(name="leak", unit="Pa", scale="log", worth_finding=1.5, expected_sd=1.3)


@pytest.fixture(scope="module")
def trial():
    names = ("drop", "flash-off", "press time", ODD)
    return Trial(
        title="Plate",
        question="",
        factors=tuple(Continuous(name=n, low=1, high=5, unit="s", setting_sd=0) for n in names),
        outcomes=(FORCE, LEAK),
        budget=Budget(parts=30),
        seed=7,
    )


@pytest.fixture(scope="module")
def found(trial):
    return plan.candidates(trial, seed=7)


@pytest.fixture(scope="module")
def fraction(trial):
    return plan.fraction(trial, runs=8, centre_points=3, terms="first-order", seed=7)


@pytest.fixture(scope="module")
def composite(trial):
    return plan.composite(trial, axial="face", seed=7)


@pytest.fixture(scope="module")
def effects(trial):
    return second_order_terms(trial.planned_factors).terms


def named(figure, name):
    return [trace for trace in figure.data if trace.name == name]


def arcs(figure, name):
    return sum(sum(x is None for x in trace.x) for trace in named(figure, name))


def test_arcs_join_what_is_one_number(fraction, effects):
    mixed = plan.mixing(fraction)
    figure = show.alias_map({"half": mixed}, effects)
    # Three pairs of products, and four squares that three arcs join.
    assert arcs(figure, "one number for both") == sum(len(g) - 1 for g in mixed.groups) == 6
    squares = named(figure, "half: one number for several")[0]
    assert len(squares.x) == sum(len(group) for group in mixed.groups)
    assert alias_sentence({"half": mixed}) == "10 effects share four numbers"


def test_dotted_arcs_are_overlaps_above_a_quarter(trial, effects):
    mixed = plan.mixing(plan.definitive(trial, terms="first-order", seed=7))
    figure = show.alias_map({"definitive": mixed}, effects)
    assert arcs(figure, "overlap above 0.25") == sum(abs(o.size) > 0.25 for o in mixed.partly)
    assert arcs(figure, "one number for both") == 0
    largest = max(abs(o.size) for o in mixed.partly)
    assert any(f"told apart: {largest:.2f}" in one.text for one in figure.layout.annotations)


def test_plans_stand_side_by_side(fraction, composite, effects):
    mixed = {"half": plan.mixing(fraction), "composite": plan.mixing(composite)}
    figure = show.alias_map(mixed, effects)
    marks = [trace for trace in figure.data if trace.mode == "markers" and trace.x]
    assert {trace.x[0] for trace in marks} == {0, 2}
    said = "In half some effects are one number; in composite no two are"
    assert said in figure.layout.title.text.replace("<br>", " ")
    assert alias_sentence({"a": mixed["half"], "b": mixed["half"]}).startswith("In each")
    assert alias_sentence({"a": mixed["composite"], "b": mixed["composite"]}).startswith("In none")
    with pytest.raises(PlanError, match="no plan or no effect"):
        show.alias_map({}, effects)


def test_bars_run_from_half_to_95_per_cent(composite):
    rows = steps.chance_rows(composite, FORCE)
    figure = show.chance_to_detect(rows)
    low, middle, high = (
        [
            one.difference
            for one in plan.detectable(composite, sd=8, alpha=0.05, chance=chance)
            if one.term.order == 1
        ]
        for chance in (0.5, 0.8, 0.95)
    )
    bar = named(figure, "low to high chance")[0]
    np.testing.assert_allclose(bar.x[:2], [low[0], high[0]], rtol=1e-6)
    np.testing.assert_allclose(named(figure, "finds it")[0].x, middle, rtol=1e-6)
    assert tuple(named(figure, "worth finding")[0].x) == (12, 12)
    assert rows.missed == ()
    assert "would be found" in chance_sentence(rows)


def test_what_would_be_missed_is_named(composite):
    fine = dataclasses.replace(FORCE, worth_finding=6.0)
    rows = steps.chance_rows(composite, fine)
    assert len(rows.missed) == 4
    assert named(show.chance_to_detect(rows), "would miss it")
    assert "could be missed, whichever factor has it" in chance_sentence(rows)
    unsaid = dataclasses.replace(FORCE, worth_finding=None)
    assert "is open" in chance_sentence(steps.chance_rows(composite, unsaid))


def test_ratios_are_drawn_as_ratios(composite):
    rows = steps.chance_rows(composite, LEAK)
    figure = show.chance_to_detect(rows)
    assert figure.layout.xaxis.type == "log"
    assert figure.layout.xaxis.ticktext[0] == "no change"
    assert all(1 < row.low < row.middle < row.high for row in rows.rows)


def test_lines_of_equal_half_width(composite):
    drawn = steps.half_width_map(composite, FORCE, x="drop", y="press time")
    error_df = plan.degrees_of_freedom(composite).error
    error = plan.precision_map(composite, x="drop", y="press time").standard_error
    np.testing.assert_allclose(drawn.half_width, t.ppf(0.975, error_df) * error * 8, rtol=1e-9)
    assert drawn.needed == 6
    figure = show.precision_lines(drawn)
    assert len(named(figure, "runs")[0].x) == len(composite)
    poor = named(figure, "less well known than needed")
    assert bool(poor) == bool((drawn.half_width > 6).any())
    assert "within 6" in precision_sentence(drawn)


def test_half_width_of_a_ratio(composite):
    drawn = steps.half_width_map(composite, LEAK, x="drop", y="press time")
    assert (drawn.half_width > 1).all()
    assert drawn.needed == pytest.approx(1.5**0.5)
    assert "×/÷1.22" in precision_sentence(drawn)


def test_what_cannot_be_drawn_says_why(composite):
    bare = Measured(name="pull", unit="N")
    for answer in (
        steps.chance_rows(composite, bare),
        steps.half_width_map(composite, bare, x="drop", y="press time"),
    ):
        assert isinstance(answer, Unavailable)
        assert "expected_sd" in answer.reason


def test_the_table_has_a_row_for_each_candidate(found):
    table = show.candidates_table(found)
    assert table.count("<tr>") == len(found.candidates) + 1
    assert all(one.name in table for one in found.candidates)
    assert table.count(">recommended<") == 1
    assert markup(found).count("<table") == 1
    assert show.left_out_table(found).count("<tr>") == len(found.left_out) + 1


def test_words_of_a_user_are_escaped(found, fraction, composite, effects):
    figures = [
        show.alias_map({ODD: plan.mixing(fraction)}, effects),
        show.chance_to_detect(steps.chance_rows(composite, FORCE)),
        show.precision_lines(steps.half_width_map(composite, FORCE, x="drop", y=ODD)),
    ]
    for figure in figures:
        written = figure.to_json()
        assert "<img" not in written
        assert "pull <b>" not in written
    table = show.candidates_table(found) + show.left_out_table(found) + markup(found)
    assert "<img" not in table
    assert "&lt;img" in table
    assert "pull <b>" not in table


def test_the_report_shows_the_plan_taken_beside_its_rivals(trial, found, fraction, effects):
    story = show.Story(
        trial=trial,
        plan=fraction,
        mixing=plan.mixing(fraction),
        plan_effects=effects,
        chances_to_detect=(steps.chance_rows(fraction, FORCE),),
        comparison=found,
    )
    page = show.report(story)
    for key in ('id="alias-map"', 'id="chance-to-detect-1"', "Plans that fit"):
        assert key in page
    assert "<img src=x" not in page
