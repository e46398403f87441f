"""The soldered wire of the demo: too cold fails one way, too hot the other.

That a joint needs heat enough to wet, and not so much that its insulation burns, is common
practice, no source. Plant and numbers are invented.
"""

import shutil

import pytest

import workbench as wb
from workbench.decide.windows import Window

COLD, HOT = "wetted “no”", "insulation melted back “yes”"


@pytest.fixture(scope="module")
def opened(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo") / "sensor_wire"
    shutil.copytree(wb.files.demo_folder("sensor_wire"), folder)
    wb.steps.take_table(folder, folder / "results_as_typed.csv", who="Ana Brandt")
    return wb.steps.open_trial(folder)


def test_joints_failed_cold_by_one_outcome_and_hot_by_the_other(opened):
    record = opened.record
    heat = record.as_run.column("tip temperature")
    failed = {}
    for name in ("wetted", "insulation melted back"):
        read = record.readings[name]
        failed[name] = {t: int((read.value[heat[read.row] == t] == 0).sum()) for t in (330, 390)}
    assert failed["wetted"][330] > 5
    assert failed["wetted"][390] == 0
    assert failed["insulation melted back"][330] <= 1
    assert failed["insulation melted back"][390] > 5


@pytest.mark.slow
def test_the_window_is_bounded_on_both_sides_and_kept_by_the_truth(opened):
    answer = wb.steps.find_window(opened)
    assert isinstance(answer.best, Window)
    limits = {one.factor.name: one for one in answer.best.limits}
    for name in ("tip temperature", "dwell"):
        one = limits[name]
        assert (one.limited_by_low, one.limited_by_high) == (COLD, HOT)
        assert one.factor.low < one.low < one.high < one.factor.high
    process = wb.files.read_process(opened.folder, opened.trial)
    assert wb.decide.lowest_true_share(process, answer.best) >= opened.trial.share
    made = wb.steps.hand_over_of(opened, answer)
    driven = {one.sign: one.comes_with for one in made.instruction.look_for}
    assert any(one.startswith("tip temperature below") for one in driven[COLD])
    assert any(one.startswith("tip temperature above") for one in driven[HOT])
