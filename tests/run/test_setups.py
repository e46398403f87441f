"""Repeats or replicates: resets asked for, and easy factors that were held in groups."""

from itertools import pairwise, permutations

import made_up_runs as m
import numpy as np
import pytest

from workbench.run import Kind, as_run_setups, asked_resets, findings, reset_heading
from workbench.run.settings_off import deviations, setting_findings
from workbench.run.setups import _chance_of_so_few

N_TRIALS = 600
SLOW = m.trial(factors=(m.HUMIDITY, m.TIP))
HELD = [[40, 0], [40, 1], [40, 0], [60, 1], [60, 0], [60, 1], [40, 1], [40, 0]]
READ = [5.1, 8.3, 4.4, 7.9, 8.1, 4.7, 8.0, 5.3]


def of(kind, record):
    return [one for one in findings(record) if one.kind is kind]


def said(*answers):
    """Return resets (n, 2) of the first factor: "y", "n" or "-" for nothing said."""
    column = [{"y": 1, "n": 0, "-": -1}[one] for one in answers]
    return np.column_stack([column, np.full(len(column), -1)])


def test_a_slow_setting_that_stayed_is_asked_about():
    (found,) = of(Kind.RESET_UNSAID, m.record(SLOW, HELD, {"pull": READ}))
    assert found.about == "humidity"
    assert found.sentence.startswith("5 of 7 times humidity stayed from one run to the next")
    assert "3 setups judge it, not 8 runs" in found.next_step
    assert "'humidity reset?'" in found.next_step


def test_an_answer_ends_the_question_and_sets_the_groups():
    record = m.record(SLOW, HELD, {"pull": READ}, resets=said(*"-nyynnyn"))
    assert of(Kind.RESET_UNSAID, record) == []
    setups = as_run_setups(record)
    assert (setups.factors, setups.slow, setups.noticed) == (("humidity",), (True,), ())
    assert setups.group.tolist() == [1, 1, 2, 3, 3, 3, 4, 4]


EASY = m.trial()
SORTED = [[1, 0], [1, 1], [1, 1], [1, 0], [3, 0], [3, 1], [3, 1], [3, 0]]


def test_an_easy_factor_changed_once_is_noticed_with_its_groups():
    record = m.record(EASY, SORTED, {"pull": READ})
    (found,) = of(Kind.CHANGED_IN_GROUPS, record)
    assert found.about == "dwell"
    assert "8 runs had only 2 groups" in found.sentence
    setups = as_run_setups(record)
    assert setups.noticed == ("dwell",)
    assert setups.group.tolist() == [1] * 4 + [2] * 4


def test_an_easy_factor_that_was_reset_each_time_is_not():
    record = m.record(EASY, SORTED, {"pull": READ}, resets=said(*"yyyyyyyy"))
    assert of(Kind.CHANGED_IN_GROUPS, record) == []
    assert as_run_setups(record).factors == ()
    assert as_run_setups(record).group.tolist() == list(range(1, 9))


def test_an_order_drawn_by_lot_is_not_suspected_and_an_adopted_one_is():
    drawn = m.record(EASY, SORTED, {"pull": READ}, plan=m.plan(EASY, SORTED))
    assert as_run_setups(drawn).noticed == ()
    adopted = m.plan(EASY, SORTED, kind="adopted")
    assert as_run_setups(m.record(EASY, SORTED, {"pull": READ}, plan=adopted)).noticed == (
        "dwell",
    )


def test_one_no_is_enough_for_an_easy_factor():
    rows = m.shuffled(8, seed=2)
    stays = int(np.flatnonzero(np.diff(rows[:, 0]) == 0)[0]) + 1
    answers = ["-"] * 8
    answers[stays] = "n"
    record = m.record(EASY, rows, {"pull": READ}, resets=said(*answers))
    assert as_run_setups(record).noticed == ("dwell",)


def test_the_sheet_asks_only_slow_settings_and_only_where_they_stay():
    (asked,) = asked_resets(m.plan(SLOW, HELD))
    assert asked.factor == "humidity"
    assert asked.asked == (False, True, True, False, True, True, False, True)
    assert reset_heading("humidity") == "humidity reset?"
    assert asked_resets(m.plan(EASY, SORTED)) == ()


@pytest.mark.parametrize("changes", range(1, 6))
def test_the_chance_of_few_changes_is_that_of_all_orders_counted(changes):
    """Three of one level and four of another: every order of the seven enumerated."""
    orders = set(permutations((0, 0, 0, 1, 1, 1, 1)))
    few = sum(sum(a != b for a, b in pairwise(one)) <= changes for one in orders)
    assert _chance_of_so_few(np.array([3, 4]), changes) == pytest.approx(few / len(orders))


def test_three_levels_are_near_the_count_of_many_random_orders():
    rng = np.random.default_rng(7)
    levels = np.repeat([0, 1, 2], 6)
    counts = [(np.diff(rng.permutation(levels)) != 0).sum() for _ in range(20000)]
    for changes in (7, 9, 11):
        share = np.mean(np.array(counts) <= changes)
        assert _chance_of_so_few(np.array([6, 6, 6]), changes) == pytest.approx(share, abs=0.012)


def test_random_orders_are_called_grouped_in_about_5_percent_of_trials():
    """Two easy factors, 16 runs; a question, not a verdict, so near 5 % will do."""
    alarms = 0
    for i in range(N_TRIALS):
        rows = m.shuffled(16, seed=i)
        alarms += bool(as_run_setups(m.record(EASY, rows, {"pull": np.arange(16.0)})).noticed)
    assert alarms / N_TRIALS <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / N_TRIALS)


def test_steady_settings_are_called_drifting_in_at_most_5_percent_of_trials():
    rng = np.random.default_rng(11)
    trial = m.trial(factors=(m.DWELL, m.HUMIDITY))
    alarms = 0
    for i in range(N_TRIALS):
        rows = m.shuffled(8 if i % 2 else 16, seed=i) * [1, 20] + [0, 40]
        # Rounded, so that many are exactly as planned, as a line writes them down.
        as_run = rows + np.round(rng.normal(size=rows.shape) * [0.1, 1.0], 1)
        record = m.record(
            trial, rows, {"pull": np.zeros(len(rows))}, as_run=m.settings(trial, as_run)
        )
        found = setting_findings(record, deviations(record))
        alarms += any(one.kind is Kind.DRIFTED for one in found)
    assert 0 < alarms / N_TRIALS <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / N_TRIALS)
