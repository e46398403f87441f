"""Each rule on what happened: when it must speak and when it must not."""

from dataclasses import replace

import made_up_runs as m
import numpy as np
import pytest

from workbench.define.outcomes import Measured
from workbench.run import (
    Attached,
    Correction,
    FileState,
    Kind,
    Status,
    Weight,
    findings,
    happened,
)

ROWS = [[1, 0], [3, 1], [1, 1], [3, 0], [3, 0], [1, 1], [3, 1], [1, 0]]
READ = [5.1, 8.3, 4.4, 7.9, 8.1, 4.7, 8.0, 5.3]
PAUSE = "2026-03-09T08:{:02d}"


def of(kind, record):
    return [one for one in findings(record) if one.kind is kind]


def made(read=READ, rows=ROWS, **more):
    trial = more.pop("trial", m.trial())
    return m.record(trial, rows, {"pull": read}, **more)


def test_nothing_is_found_where_nothing_is_wrong():
    trial = m.trial()
    assert findings(made(trial=trial, plan=m.plan(trial, ROWS))) == ()


def test_findings_keep_a_stable_order_and_become_the_notes():
    status = (Status.MISSING, Status.FAILED, *(Status.DONE,) * 6)
    rows = [[np.nan, np.nan], *ROWS[1:]]
    record = made(
        as_run=m.settings(m.trial(), rows), status=status, read=[np.nan, np.nan, *READ[2:]]
    )
    found = findings(record)
    places = [list(Kind).index(one.kind) for one in found]
    assert places == sorted(places)
    assert findings(record) == found
    assert happened(record).findings == found
    assert happened(record).notes[: len(found)] == tuple(one.words for one in found)


def test_a_failed_run_is_information_and_its_reading_stays_out_of_the_fit():
    status = (Status.FAILED, *(Status.DONE,) * 7)
    record = made(status=status, reason=("wire tore", *[""] * 7))
    (failed,) = of(Kind.FAILED, record)
    assert failed.sentence == "Run 1 failed: wire tore."
    (read,) = of(Kind.READ_THOUGH_FAILED, record)
    assert read.runs == (1,)
    assert "stand in no fit" in read.sentence
    assert not record.used()[0]


def test_a_failure_without_a_reason_is_asked_for_and_never_a_zero():
    record = made([np.nan, *READ[1:]], status=(Status.FAILED, *(Status.DONE,) * 7))
    (failed,) = of(Kind.FAILED, record)
    assert failed.weight is Weight.ASK
    assert of(Kind.READ_THOUGH_FAILED, record) == []
    assert of(Kind.ZEROS, record) == []
    assert 0 not in record.readings["pull"].row


def test_a_number_borne_twice_and_runs_made_again_or_added_are_named():
    assert of(Kind.NUMBERED_TWICE, made(run=np.array([1, 2, 3, 3, 4, 5, 6, 7])))[0].runs == (3,)
    trial = m.trial()
    rows = [*ROWS, ROWS[0]]
    record = m.record(
        trial,
        rows,
        {"pull": [*READ, 5.2]},
        plan=m.plan(trial, ROWS),
        status=(Status.REPEATED, *(Status.DONE,) * 8),
    )
    (added,) = of(Kind.ADDED, record)
    assert added.runs == (9,)
    assert "settings of run 1, which did not count" in added.sentence
    assert of(Kind.REPEATED, record)[0].runs == (1,)


def test_runs_made_out_of_order_are_the_fewest_that_moved():
    times = [PAUSE.format(t) for t in (0, 10, 20, 59, 40, 45, 50, 55)]
    (found,) = of(Kind.OUT_OF_ORDER, made(made_at=tuple(times)))
    assert found.runs == (4,)
    assert of(Kind.OUT_OF_ORDER, made(made_at=tuple(sorted(times)))) == []


def test_entering_out_of_order_is_a_question_and_one_table_at_once_is_not():
    entered = [PAUSE.format(t) for t in (0, 10, 20, 59, 40, 45, 50, 55)]
    (found,) = of(Kind.OUT_OF_ORDER, made(entered=tuple(entered)))
    assert (found.runs, found.weight) == ((4,), Weight.ASK)
    assert of(Kind.OUT_OF_ORDER, made(entered=(PAUSE.format(0),) * 8)) == []


def test_a_pause_inside_a_block_is_noticed_and_a_steady_pace_is_not():
    steady = [f"2026-03-09T{8 + i // 2:02d}:{30 * (i % 2):02d}" for i in range(8)]
    assert of(Kind.PAUSE, made(made_at=tuple(steady))) == []
    night = [*steady[:5], *(one.replace("03-09", "03-10") for one in steady[5:])]
    (found,) = of(Kind.PAUSE, made(made_at=tuple(night)))
    assert found.runs == (6,)
    assert "24.5 h where 30 min are usual" in found.sentence
    assert found.weight is Weight.CHECK


def test_times_that_cannot_be_compared_say_nothing():
    mixed = ("2026-03-09T08:00", "2026-03-09T08:10Z", *("yesterday",) * 6)
    assert of(Kind.PAUSE, made(made_at=mixed)) == of(Kind.OUT_OF_ORDER, made(made_at=mixed)) == []


def test_a_setting_far_off_is_weighed_by_the_setting_sd():
    rows = np.array(ROWS, dtype=float)
    rows[1, 0] += 0.5
    (found,) = of(Kind.OFF_PLAN, made(as_run=m.settings(m.trial(), rows)))
    assert found.about == "dwell"
    assert "+0.5 s, 5 setting sd in run 2" in found.sentence
    assert found.weight is Weight.CHECK
    rows[1, 0] -= 0.4
    assert of(Kind.OFF_PLAN, made(as_run=m.settings(m.trial(), rows)))[0].weight is Weight.NOTE


def test_a_setting_that_drifts_is_told_and_one_that_scatters_is_not():
    rows = np.array(ROWS, dtype=float)
    rows[:, 0] += np.linspace(0, 0.35, 8)
    (found,) = of(Kind.DRIFTED, made(as_run=m.settings(m.trial(), rows)))
    assert "by 0.3 s (3 setting sd) up" in found.sentence
    rows = np.array(ROWS, dtype=float)
    rows[:, 0] += [0.1, -0.2, 0.0, 0.2, -0.1, 0.1, -0.1, 0.15]
    assert of(Kind.DRIFTED, made(as_run=m.settings(m.trial(), rows))) == []


def test_a_lot_that_changed_inside_a_block_and_one_that_served_two():
    trial = m.trial()
    plan = m.plan(trial, ROWS, block=[1, 1, 1, 1, 2, 2, 2, 2])
    lots = {"plan": plan, "blocked_by": "lot", "block_labels": ("K1", "K2", "K3")}
    (split,) = of(
        Kind.LOT_CHANGED, made(trial=trial, block=np.array([0, 0, 0, 1, 2, 2, 2, 2]), **lots)
    )
    assert split.runs == (4,)
    assert "K1 (runs 1, 2, 3) and K2 (run 4)" in split.sentence
    (shared,) = of(Kind.LOT_CHANGED, made(trial=trial, block=np.zeros(8, dtype=int), **lots))
    assert shared.sentence == "K1 served more than one planned block: 1 and 2."
    as_planned = made(trial=trial, block=np.array([0] * 4 + [1] * 4), **lots)
    assert of(Kind.LOT_CHANGED, as_planned) == []


def test_zeros_apart_from_everything_else_look_like_not_measured():
    (found,) = of(Kind.ZEROS, made([5.1, 0, 4.4, 7.9, 0, 4.7, 8.0, 5.3]))
    assert found.runs == (2, 5)
    assert "exactly 0 in 2 readings (runs 2, 5), and nothing else is below 4.4 N" in found.sentence
    assert "Write n/a" in found.next_step


@pytest.mark.parametrize(
    "read", [[0, 1, 2, 0, 3, 1, 2, 2], [0, 0.05, 0.4, 0.02, 0.9, 0.1, 0.3, 0.07], READ]
)
def test_zeros_among_small_values_and_counts_may_well_be_zero(read):
    assert of(Kind.ZEROS, made(read)) == []


def test_one_odd_reading_does_not_hide_a_zero():
    read = [30.1, 0, 34.4, 27.9, 3.1, 34.7, 38.0, 35.3, 31.2, 29.6, 33.0, 36.1]
    rows = [*ROWS, *ROWS[:4]]
    (found,) = of(Kind.ZEROS, made(read, rows))
    assert found.runs == (2,)
    assert "only 1 other reading lies below 27.9" in found.sentence


def test_a_zero_on_a_log_scale_cannot_be():
    trial = m.trial(outcomes=(replace(m.PULL, scale="log"),))
    (found,) = of(Kind.ZEROS, made([0.03, 0, 0.4, 0.02, 0.9, 0.1, 0.3, 0.07], trial=trial))
    assert "log scale has no zero" in found.sentence
    # A zero that failed, or one marked as "below", is not a zero that was read.
    marked = m.readings([0.03, 0, 0.4, 0.02], mark=[0, -1, 0, 0])
    assert of(Kind.ZEROS, m.record(trial, ROWS[:4], {"pull": marked})) == []


GAUGE = Measured(name="pull", unit="N", gauge_low=0.5, gauge_high=9.0, resolution=0.1)


def test_readings_beyond_the_gauge_and_cut_off_at_its_end():
    trial = m.trial(outcomes=(GAUGE,))
    (beyond,) = of(Kind.BEYOND_GAUGE, made([5.1, 83, 4.4, 7.9, 8.1, 4.7, 8.0, 0.2], trial=trial))
    assert beyond.runs == (2, 8)
    assert "0.5 N to 9 N" in beyond.sentence
    assert "<0.5 or >9" in beyond.next_step
    (cut,) = of(Kind.CUT_OFF, made([5.1, 9, 4.4, 9, 8.1, 4.7, 9, 5.3], trial=trial))
    assert (cut.runs, ">9" in cut.next_step) == ((2, 4, 7), True)
    once = made([5.1, 9, 4.4, 8.9, 8.1, 4.7, 8.0, 5.3], trial=trial)
    assert of(Kind.CUT_OFF, once) == of(Kind.BEYOND_GAUGE, once) == []


def test_a_marked_reading_at_the_end_of_the_gauge_is_as_it_should_be():
    trial = m.trial(outcomes=(GAUGE,))
    marked = m.readings([5.1, 9, 4.4, 9], mark=[0, 1, 0, 1])
    assert of(Kind.CUT_OFF, m.record(trial, ROWS[:4], {"pull": marked})) == []


def test_readings_finer_than_the_gauge_are_asked_about():
    trial = m.trial(outcomes=(GAUGE,))
    (found,) = of(Kind.TOO_FINE, made([5.1, 8.25, 4.4, 7.9, 8.1, 4.7, 8.0, 5.3], trial=trial))
    assert (found.runs, found.weight) == ((2,), Weight.ASK)
    assert of(Kind.TOO_FINE, made(trial=trial)) == []


def test_steps_larger_than_the_scatter_or_the_gauges_own_are_told():
    rng = np.random.default_rng(3)
    parts = 6 + rng.normal(scale=0.3, size=(8, 3))
    coarse = made(np.round(parts))
    assert "in steps of 1 N, but parts of one run" in of(Kind.COARSE, coarse)[0].sentence
    assert of(Kind.COARSE, made(np.round(parts, 1))) == []
    trial = m.trial(outcomes=(GAUGE,))
    (heaped,) = of(Kind.COARSE, made(np.round(2 * parts) / 2, trial=trial))
    assert "steps of 0.5 N, though the gauge shows 0.1 N" in heaped.sentence
    assert of(Kind.COARSE, made(np.round(parts, 1), trial=trial)) == []


def test_a_row_copied_down_is_noticed():
    rng = np.random.default_rng(4)
    parts = np.round(6 + rng.normal(scale=0.5, size=(8, 3)), 2)
    assert of(Kind.SAME_READINGS, made(parts)) == []
    parts[5] = parts[2]
    (found,) = of(Kind.SAME_READINGS, made(parts))
    assert found.runs == (3, 6)
    assert "All 3 readings of runs 3, 6" in found.sentence


def test_coarse_readings_that_agree_by_chance_are_not():
    rng = np.random.default_rng(5)
    parts = np.round(6 + rng.normal(scale=0.5, size=(40, 2)))
    rows = np.tile(ROWS, (5, 1))
    assert np.unique(parts, axis=0).shape[0] < 20  # many do agree
    assert of(Kind.SAME_READINGS, made(parts, rows)) == []
    assert of(Kind.SAME_READINGS, made([5.1, 5.1, 4.4, 7.9, 8.1, 4.7, 8.0, 5.3])) == []


def test_corrections_and_files_are_told():
    change = Correction(
        run=3,
        about="pull",
        thing="pull, part 1, reading 1",
        before="44 N",
        after="4.4 N",
        who="Åsa",
        when="2026-03-09T10:00:00+00:00",
        reason="decimal point",
    )
    files = [Attached(run=2, path=f"photos/{state.name}.jpg", state=state) for state in FileState]
    record = made(corrections=(change, replace(change, reason="")), attachments=tuple(files))
    told, asked = of(Kind.CORRECTED, record)
    assert told.sentence == (
        "Run 3, pull, part 1, reading 1: 44 N was replaced by 4.4 N (Åsa, 2026-03-09): decimal "
        "point."
    )
    assert (told.weight, asked.weight) == (Weight.NOTE, Weight.ASK)
    assert "MISSING.jpg" in of(Kind.FILE_GONE, record)[0].sentence
    assert "CHANGED.jpg" in of(Kind.FILE_CHANGED, record)[0].sentence
    assert len(of(Kind.FILE_GONE, record)) == len(of(Kind.FILE_CHANGED, record)) == 1
