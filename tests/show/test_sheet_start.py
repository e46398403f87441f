"""The printed sheet before run 1 and its times: corners to tick, a stopping rule, made at."""

from dataclasses import replace

import pytest

from workbench import show
from workbench.define.factors import Categorical, Continuous
from workbench.define.outcomes import Measured
from workbench.define.trial import Trial
from workbench.plan.repeats import USUAL_STOPPING_RULE
from workbench.plan.two_level import full

TRIAL = Trial(
    title="bond (invented)",
    question="",
    factors=(
        Continuous(name="bead volume", low=260, high=440, unit="mm³", setting_sd=3),
        Categorical(name="<b>primer", levels=("none", "misted & dry")),
    ),
    outcomes=(
        Measured(name="peel <force>", unit="N", wait="72 h"),
        Measured(name="leak", unit="mm³/s", wait="24 h after cure <i>"),
    ),
)


@pytest.fixture(scope="module")
def plan():
    return full(TRIAL, seed=3)


@pytest.fixture(scope="module")
def page(plan):
    return show.run_sheet(TRIAL, plan)


def part(page, lead, end):
    return page.split(lead, 1)[1].split(end, 1)[0]


def test_each_corner_has_a_box_to_tick(page):
    dry = part(page, '<section class="dry">', "</section>")
    assert "<b>Before run 1:</b> make one part at each of these corners" in dry
    assert dry.count('<span class="tick">') == 4
    assert "misted &amp; dry" in dry
    assert "&lt;b&gt;primer" in dry
    assert "<b>primer" not in page


def test_the_usual_stopping_rule_is_said_to_be_common_practice(page, plan):
    dry = part(page, '<section class="dry">', "</section>")
    assert f"{USUAL_STOPPING_RULE} " in dry
    assert "(common practice, no source)" in dry
    stated = replace(TRIAL, stopping_rule="Stop at smoke & call.")
    own = part(show.run_sheet(stated, plan), '<section class="dry">', "</section>")
    assert "Stop at smoke &amp; call." in own
    assert "no source" not in own
    assert USUAL_STOPPING_RULE not in own


def test_every_run_has_a_box_for_its_time_and_what_is_added(page, plan):
    assert page.count('<td class="when"></td>') == len(plan)
    assert page.count('<td class="when">+72\u00a0h</td>') == len(plan)
    assert '<th scope="col">made at</th>' in page
    assert "test<br>peel &lt;force&gt;<br>from" in page


def test_a_wait_that_is_no_length_of_time_is_printed_as_it_is(page, plan):
    assert "24 h after cure &lt;i&gt;" in page
    assert "test<br>leak" not in page
    outcomes = tuple(replace(one, wait="overnight") for one in TRIAL.outcomes)
    plain = show.run_sheet(replace(TRIAL, outcomes=outcomes), plan)
    assert "made at</th>" not in plain
    assert 'class="when"' not in plain
    assert "overnight" in plain


def test_headings_span_the_times_too(page):
    again = part(page, '<tr class="again"><th colspan="', '"')
    head = part(page, '<tr class="again">', "</thead>").split("<tr>")[1]
    assert int(again) == head.count("<th ")
