"""The window's promise: three pinned trials of the long study, exactly, and its stored rates.

`tests/studies/window_promise.py` simulates many such trials; here three of them show that the
answers have not moved since, and that the quick parts of the study change no answer.
"""

import csv
import sys
from dataclasses import replace
from functools import partial
from pathlib import Path

import numpy as np
import pytest

import workbench as wb
from workbench.decide.windows import NoWindow

STUDIES = Path(__file__).parents[1] / "studies"
ROUND_OFF = 1e-9  # limits are rounded to 0.01, a third digit of the range
DRAWS = 512


@pytest.fixture(scope="module")
def study():
    """The modules of the study, which stand in a folder that no package holds."""
    with pytest.MonkeyPatch.context() as patched:
        patched.syspath_prepend(STUDIES)
        import window_promise

        yield window_promise
        for name in [one for one in sys.modules if one.split(".")[0] == "window"]:
            del sys.modules[name]


PINNED = [
    (
        ("right 20", 4, 0.9),
        (-0.25, 0.37, -0.5, 0.62, -0.33, 0.45),
        (-0.37, 0.5, -0.53, 0.68, -0.27, 0.4),
    ),
    (
        ("bent 32", 2, 0.95),
        (-0.62, 0.12, -0.59, 0.31, 0.13, 0.62),
        (-0.62, 0.12, -0.62, 0.31, 0.25, 0.85),
    ),
    (
        ("split plot 8×4", 2, 0.9),
        (0.0, 0.62, -0.75, 0.23, -0.75, 0.93),
        (-0.12, 0.87, -0.75, 0.12, -0.78, 0.93),
    ),
]


@pytest.mark.parametrize(("trial", "limits", "if_right"), PINNED)
def test_pinned_trials(study, trial, limits, if_right):
    name, seed, share = trial
    cell = study.cells.BY_NAME[name]
    found = wb.decide.window(
        study.trials.fits(cell, seed), share=share, confidence=0.95, seed=seed, n_draws=DRAWS
    )
    for one, expected in ((found.best, limits), (found.if_right, if_right)):
        ends = [end for limit in one.limits for end in (limit.low, limit.high)]
        np.testing.assert_allclose(ends, expected, rtol=0, atol=ROUND_OFF)
    sides = [(limit.low, limit.high) for limit in found.best.limits]
    assert study.trials.lowest_true_share(cell, sides) >= share


def test_quick_parts_change_no_answer(study, monkeypatch):
    """The same numbers of draws without what the study keeps and leaves out."""
    cell, quick = study.cells.BY_NAME["bent 20"], study.quick
    with quick.quickened(), quick.only_the_window():
        fast = study.trials.answers(cell, 1, n_draws=quick.N_DRAWS, forms=("window",))
    window = sys.modules["workbench.decide.window"]
    monkeypatch.setattr(window, "Task", partial(window.Task, n_checked=quick.N_CHECKED))
    monkeypatch.setattr(sys.modules["workbench.decide.search"], "SCREENED", quick.N_SCREENED)
    with quick.only_the_window():
        plain = study.trials.answers(cell, 1, n_draws=quick.N_DRAWS, forms=("window",))
    assert fast == plain
    assert any(one.lowest is not None for one in plain)


def test_a_share_that_pass_fail_parts_cannot_carry_is_refused(study):
    """0.95^n ≤ 0.05 from n = 59 on, 0.99^n from 299 on (108 parts were made)."""
    fits = study.trials.fits(study.cells.BY_NAME["pass/fail 36×3"], 3)
    best = wb.decide.window(fits, share=0.99, confidence=0.95, seed=1).best
    assert isinstance(best, NoWindow)
    assert "cannot carry a share of 0.99" in best.reason
    assert "299 even where none fails" in best.reason


def test_few_setups_are_refused(study):
    """Six setups less the mean, slope and square of the slow setting: three are left."""
    whole = study.cells.BY_NAME["split plot 8×4"]
    cell = replace(whole, runs=lambda: whole.runs()[:24])
    best = wb.decide.window(study.trials.fits(cell, 2), share=0.9, confidence=0.95, seed=1).best
    assert isinstance(best, NoWindow)
    assert "has 6 volume setups, which leaves 3 degrees of freedom" in best.reason
    assert "a window needs 4" in best.reason


def test_stored_rates_are_those_of_the_stored_trials(study):
    """The table that the package ships is worked out from the trials again."""
    shipped = wb.decide.kept_rates()
    cell = study.cells.BY_NAME["right 32"]
    again = study.table.rates(cell)
    assert len(again) == 9
    assert [one for one in shipped if one.trial == cell.words] == again


def test_rates_add_up_and_hold_the_target():
    """At shares 0.90 and 0.95 no cell speaks against 0.935 of all trials kept."""
    rates = wb.decide.kept_rates()
    assert len({one.trial for one in rates}) >= 10
    for one in rates:
        assert one.kept + one.broken == pytest.approx(1)
        low, high = one.kept_limits()
        assert low <= one.kept <= high
        if one.form == "window" and one.share < 0.99:
            assert high >= 0.935, one
        if one.form == "means":
            assert one.kept < 0.5, one


def test_a_share_of_none_and_of_all_has_exact_limits():
    """Nothing broken in 20: from 0.025^(1/20) on."""
    one = wb.decide.KeptRate(
        trial="t", share=0.9, form="window", trials=20, given=0, false=0, width=0.0
    )
    assert one.kept_limits() == pytest.approx((0.025 ** (1 / 20), 1.0))
    assert one.kept_if_given is None
    assert one.none == 1


def test_summary_has_the_same_rates():
    with (STUDIES / "window" / "promise.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == len(wb.decide.kept_rates())
    for row, one in zip(rows, wb.decide.kept_rates(), strict=True):
        assert float(row["kept"]) == pytest.approx(one.kept, abs=6e-4)
        assert int(row["trials"]) == one.trials
