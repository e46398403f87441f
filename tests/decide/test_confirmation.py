"""Where and how many parts are to be made, what is foreseen of them, and their order."""

import numpy as np
import pytest
from invented_proofs import WETS, plan_of, trial_of
from scipy.stats import nct

from workbench.decide.confirmation import JudgedBy
from workbench.decide.confirmation_made import ConfirmationWish, confirmation_plan
from workbench.decide.confirmation_normal import (
    ABOVE,
    BELOW,
    Margin,
    allowances,
    chance_by_measure,
)
from workbench.decide.confirmation_runs import confirmation_runs
from workbench.decide.windows import Limit, Window
from workbench.decide.zero_failures import counting, counting_of, shown_without_failure
from workbench.define.factors import Continuous
from workbench.define.outcomes import Measured, between
from workbench.define.settings import settings
from workbench.define.trial import Trial
from workbench.errors import DecisionError


@pytest.fixture(scope="module")
def fits(made):
    """A force that rises with the first factor and may be neither low nor high."""
    factors = made.numeric(2)
    coded = made.face_centred(2)
    rng = np.random.default_rng(8)
    force = 20 + 2 * coded[:, 0] + 0.5 * coded[:, 1] + rng.normal(0, 0.5, len(coded))
    outcome = Measured(name="force", unit="N", requirement=between(15.0, 25.0))
    return made.fits_of(factors, coded, [(outcome, force)])


@pytest.fixture(scope="module")
def window(fits):
    factors = fits[0].settings.factors
    return Window(
        limits=tuple(
            Limit(
                factor=one,
                low=one.low + 20,
                high=one.high - 20,
                set_point=one.low + 40,
                limited_by_low="force below 15 N",
                limited_by_high="force above 25 N",
            )
            for one in factors
        ),
        levels=(),
        share=0.95,
        confidence=0.95,
        chance_at_set_point=0.999,
        lowest_share=0.96,
        volume=0.25,
        model_form=0.1,
        seed=4,
        n_draws=1024,
        notes=(),
    )


def test_the_set_point_and_one_corner_for_each_limit_that_fails_first(fits, window):
    plan = confirmation_plan(fits, window, seed=2)
    assert [one.name for one in plan.places] == ["set point", "first corner", "second corner"]
    assert dict(plan.places[0].settings) == {"factor 1": 140.0, "factor 2": 240.0}
    corners = {one.why: dict(one.settings) for one in plan.places[1:]}
    assert corners["likeliest there: force below 15 N"] == {"factor 1": 120.0, "factor 2": 220.0}
    assert corners["likeliest there: force above 25 N"] == {"factor 1": 160.0, "factor 2": 260.0}
    assert plan.judged_by is JudgedBy.MEASURE
    assert all(10 <= one.parts < 59 for one in plan.places)
    assert all(one.chance_to_confirm > 0.9 for one in plan.places)
    assert all(one.assured_share <= one.chance + 0.01 for one in plan.places)


def test_what_is_foreseen_is_what_the_fit_predicts(fits, window):
    plan = confirmation_plan(fits, window, seed=2)
    one = plan.places[0].outcomes[0]
    there = settings(fits[0].settings.factors, [dict(plan.places[0].settings)])
    predicted = fits[0].predict(there, confidence=0.95)
    assert one.mean == pytest.approx(predicted.mean[0])
    assert one.new_part_low == pytest.approx(predicted.new_part_low[0])
    # The mean of n parts lies between the mean of the process and one part.
    assert one.new_part_low < one.parts_mean_low < one.mean_low
    assert one.mean_high < one.parts_mean_high < one.new_part_high
    assert one.requirement == "15 to 25 N"


def test_same_seed_same_plan_and_counting_on_request(fits, window):
    wish = ConfirmationWish(judged_by=JudgedBy.COUNTING, corners=1)
    plan = confirmation_plan(fits, window, seed=2, wish=wish)
    assert plan == confirmation_plan(fits, window, seed=2, wish=wish)
    assert [(one.parts, one.failures_allowed) for one in plan.places] == [(59, 0), (59, 0)]
    assert (
        "59 parts without a failure, 93 with at most one, 124 with at most two" in plan.number[0]
    )
    assert "10 parts show that at least 74.1 % meet everything" in plan.fewer[0]
    more = confirmation_plan(
        fits, window, seed=2, wish=ConfirmationWish(judged_by=JudgedBy.COUNTING, failures=1)
    )
    assert {one.parts for one in more.places} == {93}


def test_so_few_parts_that_nothing_can_be_shown_are_said_to_be(fits, window):
    wish = ConfirmationWish(judged_by=JudgedBy.COUNTING, parts=20)
    plan = confirmation_plan(fits, window, seed=2, wish=wish)
    assert {one.failures_allowed for one in plan.places} == {None}
    assert {one.chance_to_confirm for one in plan.places} == {0.0}
    assert "So few parts cannot show it" in plan.number[1]


@pytest.mark.parametrize(
    ("wish", "words"),
    [
        (ConfirmationWish(parts=1), "1 parts at each place"),
        (ConfirmationWish(corners=-1), "-1 corners"),
        (ConfirmationWish(sittings=(" ",)), "Nothing says how the parts are made"),
    ],
)
def test_wishes_that_cannot_be_are_refused(fits, window, wish, words):
    with pytest.raises(DecisionError, match=words):
        confirmation_plan(fits, window, seed=2, wish=wish)


def test_allowances_add_up_to_what_may_fail_and_follow_the_nearest_limit():
    margins = (
        Margin(outcome="pull", side=BELOW, in_sd=3.0),
        Margin(outcome="pull", side=ABOVE, in_sd=9.0),
    )
    found = allowances(margins, 15, share=0.95, confidence=0.95)
    total = sum(one.part for one in found)
    assert 0.0499 < total <= 0.05
    assert found[0].part > 20 * found[1].part
    # With all allowed to one limit, the chance is that of the one-sided factor 2.566 of 15 parts.
    alone = allowances(margins[:1], 15, share=0.95, confidence=0.95)
    chance = chance_by_measure(margins[:1], alone, 15, confidence=0.95)
    assert chance == pytest.approx(nct.sf(2.566 * 15**0.5, 14, 3 * 15**0.5), abs=1e-3)


def test_counting_in_words_and_numbers():
    assert counting(0.9, confidence=0.9).parts == 22
    assert counting_of(93, 0.95, confidence=0.95).failures == 1
    assert counting_of(20, 0.95, confidence=0.95) is None
    assert shown_without_failure(22, confidence=0.9) == pytest.approx(0.1 ** (1 / 22))


def test_runs_are_shared_out_over_sittings_and_mixed_by_the_seed():
    plan = plan_of([WETS], parts=11, n_places=3)
    runs = confirmation_runs(plan, trial_of([WETS]))
    assert len(runs) == 33
    assert runs.block.tolist() == sorted(runs.block.tolist())
    for place in plan.places:
        rows = [i for i, one in enumerate(runs.point) if one == place.name]
        assert abs(np.bincount(runs.block[rows])[1] - 5.5) == 0.5
        assert set(runs.settings.values[rows, 0]) == {dict(place.settings)["dwell"]}
    assert runs.point != tuple(sorted(runs.point))
    assert sorted(runs.standard.tolist()) == list(range(1, 34))
    again = confirmation_runs(plan, trial_of([WETS]))
    assert again.point == runs.point


def test_a_slow_setting_is_set_once_for_each_place_and_sitting():
    plan = plan_of([WETS], parts=6, n_places=3)
    slow = Continuous(name="dwell", low=1, high=3, unit="s", setting_sd=0.1, slow=True)
    trial = Trial(title="t", question="?", factors=(slow,), outcomes=(WETS,), model="dwell")
    runs = confirmation_runs(plan, trial)
    assert np.unique(runs.setup).size == 6
    for setup in np.unique(runs.setup):
        rows = runs.setup == setup
        assert np.unique(runs.settings.values[rows]).size == 1
        assert np.unique(runs.block[rows]).size == 1
