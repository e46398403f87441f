"""The one rule for outliers: what it finds, what it leaves, how often it is wrong."""

from dataclasses import replace

import made_up_runs as m
import numpy as np
import pytest
from statsmodels.regression.linear_model import OLS

from workbench.define.outcomes import Measured
from workbench.run import Kind, findings
from workbench.run.outliers import outlier_findings
from workbench.run.words import signed

N_TRIALS = 400


def pulled(rows, rng, *, scatter=0.5, parts=1):
    middle = 2 * rows[:, 0] + 3 * rows[:, 1]
    runs = middle + rng.normal(scale=scatter, size=len(rows))
    return runs[:, None] + (rng.normal(scale=scatter, size=(len(rows), parts)) if parts > 1 else 0)


def outliers(record):
    return [one for one in findings(record) if one.kind is Kind.OUTLIER]


def test_a_gross_error_is_found_and_counts_until_someone_says_otherwise():
    rows = m.shuffled(16, seed=1)
    read = pulled(rows, np.random.default_rng(1))
    assert outliers(m.record(m.trial(), rows, {"pull": read})) == []
    read[6] += 6
    record = m.record(m.trial(), rows, {"pull": read})
    (found,) = outliers(record)
    assert found.runs == (7,)
    assert "far above" in found.sentence
    assert "It counts until then" in found.next_step
    assert record.used().all()


def test_one_part_among_its_run_is_found_by_its_own_number():
    rows = m.shuffled(8, seed=2)
    read = pulled(rows, np.random.default_rng(2), parts=4)
    read[3, 2] = -9.0
    found = outliers(m.record(m.trial(), rows, {"pull": read}))
    assert any("part 3 in run 4, -9 N, stands far below" in one.sentence for one in found)


def test_what_the_model_explains_is_no_outlier_and_neither_is_a_block():
    rows = m.shuffled(16, seed=3)
    read = pulled(rows, np.random.default_rng(3))
    block = np.repeat([0, 1], 8)
    read[:8] += 50
    record = m.record(
        m.trial(), rows, {"pull": read}, block=block, block_labels=("K1", "K2"), blocked_by="lot"
    )
    assert outliers(record) == []


def test_a_mean_cut_off_by_the_gauge_is_not_judged():
    rows = m.shuffled(16, seed=1)
    read = pulled(rows, np.random.default_rng(1))[:, 0]
    read[6] += 6
    marked = m.readings(read, mark=np.arange(16) == 6)
    assert outliers(m.record(m.trial(), rows, {"pull": marked})) == []


def test_a_saturated_plan_says_that_it_cannot_tell():
    rows = m.shuffled(4, seed=4)
    (found,) = findings(m.record(m.trial(), rows, {"pull": [1.0, 5.5, 3.1, 2.2]}))
    assert found.kind is Kind.NO_OUTLIER_CHECK


def test_a_log_scale_is_judged_by_ratios():
    trial = m.trial(outcomes=(replace(m.PULL, scale="log"),))
    rows = m.shuffled(16, seed=5)
    read = np.exp(pulled(rows, np.random.default_rng(5), scatter=0.2))
    assert outliers(m.record(trial, rows, {"pull": read})) == []
    read[2] /= 40
    (found,) = outliers(m.record(trial, rows, {"pull": read}))
    assert (found.runs, "on the log scale" in found.sentence) == ((3,), True)


@pytest.mark.reference("statsmodels")
def test_the_studentised_residual_is_that_of_a_fit_with_block_columns():
    rows = m.shuffled(16, seed=6)
    read = pulled(rows, np.random.default_rng(6))[:, 0]
    block = np.arange(16) % 3
    read[4] += 9
    record = m.record(
        m.trial(),
        rows,
        {"pull": read},
        block=block,
        block_labels=("a", "b", "c"),
        blocked_by="lot",
    )
    X = np.column_stack([np.eye(3)[block], rows[:, 0], rows[:, 1]])
    expected = OLS(read, X).fit().get_influence().resid_studentized_external[4]
    (found,) = outliers(record)
    assert f"(studentised residual {signed(expected, '.1f')})" in found.sentence


@pytest.mark.parametrize(
    ("n", "parts", "n_outcomes"), [(8, 1, 1), (16, 1, 3), (12, 3, 1), (32, 2, 2)]
)
def test_a_clean_trial_is_called_wrong_in_at_most_5_percent(n, parts, n_outcomes):
    """Seeded; the bound holds for the true rate, so 3 binomial SDs are allowed above it."""
    rng = np.random.default_rng(20260309)
    outcomes = tuple(Measured(name=f"pull {i}", unit="N") for i in range(n_outcomes))
    trial = m.trial(outcomes=outcomes)
    alarms = 0
    for i in range(N_TRIALS):
        rows = m.shuffled(n, seed=i)
        read = {one.name: pulled(rows, rng, parts=parts) for one in outcomes}
        found = outlier_findings(m.record(trial, rows, read))
        alarms += any(one.kind is Kind.OUTLIER for one in found)
    assert alarms / N_TRIALS <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / N_TRIALS)
    assert alarms  # a rule that never spoke would pass any bound
