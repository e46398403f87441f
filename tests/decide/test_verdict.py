"""What parts say: holds, does not hold, too few; lost, cut off and unplanned ones."""

import numpy as np
import pytest
from invented_proofs import WETS, plan_of, pull, record_of
from scipy.optimize import brentq
from scipy.stats import nct, norm

from workbench.decide.confirmation import JudgedBy
from workbench.decide.confirmation_normal import ABOVE, BELOW
from workbench.decide.verdict import Answer
from workbench.decide.verdict_made import confirmation_verdict
from workbench.errors import DecisionError, Unavailable
from workbench.run.record import Status

AT_LEAST = pull(low=-3.0)
MARGINS = ((BELOW, 3.0),)


def normal_parts(n, *, seed=4, mean=0.0):
    """Parts whose mean and sd are those of the process, so that nothing here hangs on luck."""
    drawn = np.random.default_rng(seed).normal(size=n)
    return mean + (drawn - drawn.mean()) / drawn.std(ddof=1)


def test_59_parts_without_a_failure_show_95_with_95_and_58_do_not():
    for n, answer in ((59, Answer.HOLDS), (58, Answer.OPEN)):
        plan = plan_of([WETS], parts=n)
        found = confirmation_verdict(plan, record_of(plan, [WETS], {"wets": np.ones(n)}))
        assert found.answer is answer
        assert found.places[0].tally.met == n


def test_failures_refute_when_even_the_upper_limit_stays_below():
    plan = plan_of([WETS], parts=40)
    for failures, answer in ((4, Answer.OPEN), (7, Answer.FAILS)):
        seen = np.r_[np.zeros(failures), np.ones(40 - failures)]
        found = confirmation_verdict(plan, record_of(plan, [WETS], {"wets": seen}))
        assert found.answer is answer
    assert "Do not release" in found.to_do[0]
    assert any("wets (7 of 40 at the set point)" in line for line in found.to_do)


def test_every_place_has_to_hold_and_one_refuted_is_enough():
    plan = plan_of([WETS], parts=59, n_places=2)
    seen = np.ones(118)
    record = record_of(plan, [WETS], {"wets": seen})
    assert confirmation_verdict(plan, record).answer is Answer.HOLDS
    at_corner = np.array([point == "corner 1" for point in record.plan.point])
    seen[np.flatnonzero(at_corner)[:1]] = 0
    found = confirmation_verdict(plan, record_of(plan, [WETS], {"wets": seen}))
    assert [one.answer for one in found.places] == [Answer.HOLDS, Answer.OPEN]
    assert found.answer is Answer.OPEN
    seen[at_corner] = 0
    found = confirmation_verdict(plan, record_of(plan, [WETS], {"wets": seen}))
    assert found.answer is Answer.FAILS


def test_a_lost_part_counts_as_failed_and_one_not_recorded_against_the_window():
    plan = plan_of([WETS], parts=59)
    for status, word in ((Status.FAILED, "broke"), (Status.MISSING, "not recorded")):
        record = record_of(plan, [WETS], {"wets": np.ones(59)}, status={5: status})
        found = confirmation_verdict(plan, record)
        assert found.answer is Answer.OPEN
        assert any(word in line for line in found.places[0].reasons)
    lost = record_of(
        plan, [WETS], {"wets": np.ones(59)}, status=dict.fromkeys(range(12), Status.FAILED)
    )
    assert confirmation_verdict(plan, lost).answer is Answer.FAILS
    untold = record_of(
        plan, [WETS], {"wets": np.ones(59)}, status=dict.fromkeys(range(12), Status.MISSING)
    )
    assert confirmation_verdict(plan, untold).answer is Answer.OPEN


def test_few_parts_far_inside_their_limit_hold_by_measure():
    plan = plan_of([AT_LEAST], parts=15, margins=MARGINS)
    found = confirmation_verdict(plan, record_of(plan, [AT_LEAST], {"pull": normal_parts(15)}))
    place = found.places[0]
    assert (found.answer, place.judged_by) == (Answer.HOLDS, JudgedBy.MEASURE)
    # One limit: the share is that whose one-sided factor for 15 parts is 3.
    root = 15**0.5
    z = brentq(lambda z: nct.cdf(3 * root, 14, z * root) - 0.95, 0, 3)
    assert place.by_measure == pytest.approx(norm.cdf(z), abs=1e-5)
    assert place.outcomes[0].tolerance.low == pytest.approx(-2.566, abs=0.001)
    assert place.outcomes[0].index.nearest == pytest.approx(1.0)
    assert "performance, not capability" in place.outcomes[0].index.why


def test_parts_near_their_limit_refute_by_measure_though_few_fail():
    plan = plan_of([AT_LEAST], parts=40, margins=MARGINS)
    near = normal_parts(40, mean=-2.5)
    found = confirmation_verdict(plan, record_of(plan, [AT_LEAST], {"pull": near}))
    assert found.answer is Answer.FAILS


def test_a_lost_part_ends_the_judgement_by_measure():
    plan = plan_of([AT_LEAST], parts=15, margins=MARGINS)
    record = record_of(plan, [AT_LEAST], {"pull": normal_parts(15)}, status={0: Status.FAILED})
    place = confirmation_verdict(plan, record).places[0]
    assert (place.answer, place.judged_by) == (Answer.OPEN, JudgedBy.COUNTING)
    assert any("Counted, not judged by measure as planned" in line for line in place.reasons)


@pytest.mark.parametrize(
    ("value", "mark", "state"),
    [(-3.0, -1, "failed"), (-1.0, -1, "unknown"), (-3.0, 1, "met"), (4.0, 1, "met")],
)
def test_readings_cut_off_are_judged_where_that_can_be_told(value, mark, state):
    plan = plan_of([AT_LEAST], parts=10, margins=MARGINS)
    values = normal_parts(10)
    values[3] = value
    record = record_of(plan, [AT_LEAST], {"pull": values}, marks={"pull": {3: mark}})
    place = confirmation_verdict(plan, record).places[0]
    assert getattr(place.tally, state) == (10 if state == "met" else 1)
    assert place.judged_by is JudgedBy.COUNTING
    assert isinstance(place.outcomes[0].index, Unavailable)


def test_sittings_that_differ_are_no_draws_of_one_process():
    plan = plan_of([AT_LEAST], parts=20, margins=MARGINS)
    record = record_of(plan, [AT_LEAST], {"pull": normal_parts(20)})
    moved = normal_parts(20) + np.where(record.block == 0, 0.0, 4.0)
    place = confirmation_verdict(plan, record_of(plan, [AT_LEAST], {"pull": moved})).places[0]
    assert place.judged_by is JudgedBy.COUNTING
    assert any("sittings differ in pull" in line for line in place.reasons)


def test_a_mean_that_was_not_foreseen_is_said_though_the_window_holds():
    outcome = pull(low=-10.0)
    plan = plan_of([outcome], parts=15, margins=((BELOW, 10.0),))
    found = confirmation_verdict(
        plan, record_of(plan, [outcome], {"pull": normal_parts(15, mean=0.8)})
    )
    assert found.answer is Answer.HOLDS
    assert found.places[0].outcomes[0].mean_as_foreseen is False
    assert any("not as foreseen: pull at the set point" in line for line in found.to_do)


def test_both_limits_of_an_outcome_are_held():
    outcome = pull(low=-4.0, high=4.0)
    plan = plan_of([outcome], parts=20, margins=((BELOW, 4.0), (ABOVE, 4.0)))
    values = {0.0: Answer.HOLDS, 2.0: Answer.OPEN, -3.5: Answer.FAILS}
    for mean, answer in values.items():
        record = record_of(plan, [outcome], {"pull": normal_parts(20, mean=mean)})
        assert confirmation_verdict(plan, record).answer is answer


def test_other_settings_than_planned_are_refused_with_the_next_step():
    plan = plan_of([WETS], parts=10)
    record = record_of(plan, [WETS], {"wets": np.ones(10)}, as_run={4: 2.6})
    with pytest.raises(DecisionError, match=r"run 5 at dwell 2.6 s, planned 2") as met:
        confirmation_verdict(plan, record)
    assert "lock a new confirmation" in met.value.next_step
    # What the setting error of the line explains is no other setting.
    near = record_of(plan, [WETS], {"wets": np.ones(10)}, as_run={4: 2.15})
    assert confirmation_verdict(plan, near).answer is Answer.OPEN


def test_without_a_part_there_is_no_verdict():
    plan = plan_of([WETS], parts=3)
    record = record_of(
        plan, [WETS], {"wets": np.ones(3)}, status=dict.fromkeys(range(3), Status.MISSING)
    )
    with pytest.raises(DecisionError, match="No part of the confirmation is recorded"):
        confirmation_verdict(plan, record)
