"""What happened against the plan."""

import numpy as np
import pytest

from workbench.define.factors import Categorical, Continuous
from workbench.define.outcomes import Measured
from workbench.define.settings import Settings
from workbench.define.trial import Trial
from workbench.errors import RecordError
from workbench.run import Deviation, Readings, Record, Status, deviations, happened

DWELL = Continuous(name="dwell", low=1, high=3, unit="s", setting_sd=0.1)
TIP = Categorical(name="tip", levels=("round", "chisel"))
TRIAL = Trial(
    title="wires", question="", factors=(DWELL, TIP), outcomes=(Measured(name="pull", unit="N"),)
)
PLANNED = [[1, 0], [3, 0], [1, 1], [3, 1], [2, 0], [2, 1]]


def record(as_run=PLANNED, *, status=None, reason=None, pull=(5, 3, 4, 8, 6, 7)):
    n = len(PLANNED)
    status = status or (Status.DONE,) * n
    rows = np.array([i for i in range(n) if status[i] is not Status.MISSING])
    return Record(
        trial=TRIAL,
        plan=None,
        run=np.arange(1, n + 1),
        planned=Settings(factors=TRIAL.factors, values=np.array(PLANNED, dtype=float)),
        as_run=Settings(factors=TRIAL.factors, values=np.array(as_run, dtype=float)),
        block=np.zeros(n, dtype=np.int64),
        block_labels=("1",),
        setup=np.arange(1, n + 1),
        status=status,
        reason=reason or ("",) * n,
        readings={
            "pull": Readings(
                row=rows,
                part=np.ones_like(rows),
                reading=np.ones_like(rows),
                value=np.array(pull, dtype=float)[rows],
                mark=np.zeros_like(rows),
            )
        },
    )


def changed(run, column, value):
    rows = [list(row) for row in PLANNED]
    rows[run - 1][column] = value
    return rows


def test_a_setting_off_plan_is_told_in_its_unit_and_in_setting_sd():
    (found,) = deviations(record(changed(2, 0, 3.25)))
    assert found == Deviation(
        run=2, factor="dwell", planned=3.0, as_run=3.25, in_sd=pytest.approx(2.5)
    )


def test_another_level_is_told_by_name():
    (found,) = deviations(record(changed(1, 1, 1)))
    assert (found.planned, found.as_run, found.in_sd) == ("round", "chisel", None)


def test_rounding_and_missing_runs_are_no_deviation():
    assert deviations(record(changed(2, 0, 3 + 1e-12))) == ()
    status = (Status.MISSING, *(Status.DONE,) * 5)
    assert deviations(record(changed(1, 0, np.nan), status=status)) == ()


def test_counts_and_reasons():
    status = (Status.MISSING, Status.FAILED, Status.EXCLUDED, *(Status.DONE,) * 3)
    what = happened(
        record(changed(1, 0, np.nan), status=status, reason=("", "jam", "wet", "", "", ""))
    )
    assert (what.n_planned, what.n_done, what.n_failed, what.n_excluded) == (6, 3, 1, 1)
    assert what.missing == (1,)
    assert "Planned but not recorded: run 1." in what.notes
    assert "Run 2 failed: jam." in what.notes
    assert "Run 3 is excluded: wet." in what.notes


def test_a_run_whose_setting_is_not_known_does_not_count_and_is_named():
    found = record(changed(4, 0, np.nan))
    assert found.used().sum() == 5
    assert any("run 4." in note for note in happened(found).notes)


@pytest.mark.parametrize(
    ("pull", "word"), [((1, 2, 2, 3, 4, 5), "rises"), ((6, 5, 4, 3, 2, 1), "falls")]
)
def test_an_outcome_in_sorted_order_is_noticed(pull, word):
    assert any(f"pull only ever {word}" in note for note in happened(record(pull=pull)).notes)


@pytest.mark.parametrize("pull", [(5, 3, 4, 8, 6, 7), (2, 2, 2, 2, 2, 2)])
def test_chance_order_and_a_constant_outcome_are_not(pull):
    assert not any("only ever" in note for note in happened(record(pull=pull)).notes)


def test_an_exclusion_needs_a_reason():
    with pytest.raises(RecordError, match="Run 1 is excluded without a reason"):
        record(status=(Status.EXCLUDED, *(Status.DONE,) * 5))
