"""Where a part can be made at all: the model of runs that failed outright."""

from dataclasses import replace

import numpy as np
import pytest

import workbench as wb
from workbench.define import Continuous, Measured, Trial, at_least
from workbench.define.settings import from_coded
from workbench.errors import Unavailable
from workbench.fit.boundary import MADE
from workbench.run.record import Readings, Record, Status

FACTORS = (
    Continuous(name="tip temperature", low=330, high=390, unit="°C", setting_sd=3),
    Continuous(name="dwell", low=1, high=3, unit="s", setting_sd=0.1),
)
FORCE = Measured(name="pull force", unit="N", requirement=at_least(4))


def record(fails, *, n=24, seed=5):
    """An invented trial on a grid; `fails` says of coded settings (n, 2) where no part is made."""
    rng = np.random.default_rng(seed)
    x = np.round(rng.uniform(-1, 1, (n, 2)), 2)
    failed = fails(x)
    made = np.flatnonzero(~failed).astype(np.int64)
    ones = np.ones(made.size, dtype=np.int64)
    settings = from_coded(FACTORS, x)
    return Record(
        trial=Trial(title="made up", question="?", factors=FACTORS, outcomes=(FORCE,)),
        plan=None,
        run=np.arange(1, n + 1),
        planned=settings,
        as_run=settings,
        block=np.zeros(n, dtype=np.int64),
        block_labels=("1",),
        setup=np.arange(1, n + 1),
        status=tuple(Status.FAILED if one else Status.DONE for one in failed),
        reason=tuple("came apart" if one else "" for one in failed),
        readings={
            FORCE.name: Readings(
                row=made,
                part=ones,
                reading=ones.copy(),
                value=5 + x[made, 0] + rng.normal(0, 0.2, made.size),
                mark=np.zeros(made.size, dtype=np.int64),
            )
        },
    )


def cold(x):
    return x[:, 0] + 0.3 * x[:, 1] < -0.5


def shares(fit, coded):
    draws = fit.share_draws(from_coded(FACTORS, coded), n_draws=2000, seed=3, model_form=0.0)
    return draws.share.mean(axis=0), np.quantile(draws.share, 0.05, axis=0)


def test_without_a_failed_run_nothing_is_fitted():
    none = record(lambda x: np.zeros(len(x), dtype=bool))
    assert wb.fit.boundary(none) is None
    assert wb.fit.boundary_words(none) == ""


def test_the_boundary_stands_where_runs_began_to_fail():
    seen = record(cold, n=40)
    fit = wb.fit.boundary(seen)
    assert fit.outcome.name == MADE
    assert sorted(fit.run.tolist()) == list(range(1, 41))
    mean, _ = shares(fit, np.array([[-0.95, 0.0], [0.8, 0.0]]))
    assert mean[0] < 0.3
    assert mean[1] > 0.9
    slope = next(one for one in fit.effects if str(one.term) == "tip temperature")
    assert slope.estimate.value > 1  # odds of making a part rise with heat


def test_few_failures_leave_a_wide_interval_and_it_is_said():
    few = record(lambda x: (x[:, 0] < -0.75) & (x[:, 1] < 0.2), n=24)
    n_failed = sum(status is Status.FAILED for status in few.status)
    assert 1 <= n_failed < 5
    fit = wb.fit.boundary(few)
    mean, low = shares(fit, np.array([[-0.7, 0.0]]))
    assert mean[0] - low[0] > 0.2
    assert any("its interval is wide" in note for note in fit.notes)
    assert f"{n_failed} of 24 runs gave no part" in wb.fit.boundary_words(few)


def test_a_record_of_the_outcome_is_as_it_was():
    seen = record(cold)
    before = seen.status
    wb.fit.boundary(seen)
    assert seen.status == before
    outcome = wb.fit.outcome(seen, FORCE.name, terms="first-order")
    assert len(outcome.run) == sum(status is Status.DONE for status in before)


def test_too_few_runs_for_a_boundary_have_a_reason():
    seen = record(cold, n=24)
    rows = np.concatenate(
        [np.flatnonzero(wb.fit.failed_outright(seen))[:1], np.flatnonzero(seen.used())[:2]]
    )
    few = replace(
        seen,
        status=tuple(
            status if i in rows else Status.EXCLUDED for i, status in enumerate(seen.status)
        ),
        reason=tuple("left out here" for _ in seen.status),
    )
    answer = wb.fit.boundary(few)
    assert isinstance(answer, Unavailable)
    assert "3 runs for 3 columns" in answer.reason


@pytest.mark.parametrize("confidence", [0.9])
def test_the_window_keeps_clear_of_the_boundary(confidence):
    """The low end of the temperature moves up once failures are known (invented process)."""
    terms = wb.define.parse_terms("first-order", FACTORS)
    seen = record(cold, n=60, seed=8)
    force = wb.fit.outcome(seen, FORCE.name, terms=terms)
    asked = {"share": 0.8, "confidence": confidence, "seed": 2, "n_draws": 512}
    without = wb.decide.window((force,), **asked).best
    with_it = wb.decide.window((force, wb.fit.boundary(seen)), **asked).best
    assert isinstance(without, wb.decide.Window)
    assert isinstance(with_it, wb.decide.Window)
    assert with_it.limits[0].low > without.limits[0].low
    assert MADE in with_it.limits[0].limited_by_low
