"""Pass/fail outcomes of a record: answers, what cannot be told, and honest error rates."""

import sys
from itertools import product
from pathlib import Path

import numpy as np
import pytest

import workbench as wb
from workbench.define.factors import Continuous
from workbench.define.settings import from_coded
from workbench.errors import Unavailable
from workbench.fit.pass_fail import PassFailFit
from workbench.fit.pass_fail_outcome import pass_fail_outcome
from workbench.fit.run_means import Wanted

sys.path.insert(0, str(Path(__file__).parents[1] / "studies"))
from pass_fail_errors import NAMES, WETTED, factors, fitted, record, runs_study, setups_study

X = np.array(list(product([-1.0, 1.0], repeat=4)))
PASSED = np.array([1, 2, 0, 1, 3, 2, 3, 3, 3, 3, 3, 3, 3, 3, 3, 3])
SETUPS = np.repeat(np.arange(1, 9), 2)
SLOW = ("idle", "second")


@pytest.fixture(scope="module")
def plain():
    return fitted(record(X, PASSED, parts=3))


@pytest.fixture(scope="module")
def shared():
    return fitted(record(X, PASSED, parts=3, setup=SETUPS, slow=SLOW))


def p(fit, name):
    return next(one.p for one in fit.tests if str(one.term) == name)


def test_face_of_a_separated_trial(plain):
    assert isinstance(plain, PassFailFit)
    assert plain.kind == "pass-fail"
    assert "No failures seen at idle 1 (24 parts)." in plain.notes
    assert any("runs off without end" in one for one in plain.notes)
    effect = next(one for one in plain.effects if one.name == "idle")
    assert effect.is_ratio
    assert effect.unit == "odds of passing"
    assert 1 < effect.estimate.low < effect.value < effect.estimate.high < np.inf
    assert p(plain, "idle") < 0.05
    assert "No failures seen at idle 1" in plain.reading


def test_effect_is_twice_its_coefficient_in_odds(plain):
    effect = next(one for one in plain.effects if one.name == "idle").estimate
    coded = next(one for one in plain.coefficients if one.name == "idle").estimate
    assert np.log(effect.low) == pytest.approx(2 * coded.low, rel=1e-6)
    assert np.log(effect.high) == pytest.approx(2 * coded.high, rel=1e-6)


def test_three_levels_are_told_against_their_mean_the_same_in_any_order():
    from workbench.define.factors import Categorical
    from workbench.define.terms import preset

    answers = []
    for levels in (("a", "b", "c"), ("c", "a", "b")):
        tip = (Categorical(name="tip", levels=levels),)
        index = [levels.index(one) for one in "abc" * 4]
        one = _with_factors(tip, np.array(index, dtype=float)[:, None])
        fit = pass_fail_outcome(
            one, WETTED, preset("first-order", tip), wanted=Wanted(factors=("tip",))
        )
        answers.append({e.name: (e.value, e.estimate.low, e.estimate.high) for e in fit.effects})
    for name, numbers in answers[0].items():
        np.testing.assert_allclose(numbers, answers[1][name], rtol=1e-6)


def _with_factors(chosen, values):
    from dataclasses import replace

    from workbench.define.settings import Settings
    from workbench.define.trial import Trial

    one = record(X[:12], np.array([3, 2, 1] * 3 + [2, 3, 0]), parts=3)
    settings = Settings(factors=chosen, values=values)
    trial = Trial(title="t", question="q", factors=chosen, outcomes=(WETTED,))
    return replace(one, trial=trial, planned=settings, as_run=settings)


def test_rates_and_shares_agree_and_repeat(plain):
    points = from_coded(factors(), np.array([[0.0, 0, 0, 0], [1, 1, 1, 1]]))
    told = plain.predict(points, confidence=0.9)
    first = plain.share_draws(points, n_draws=2000, seed=5, model_form=0.0)
    again = plain.share_draws(points.rows(np.array([1])), n_draws=2000, seed=5, model_form=0.0)
    # Single precision: the order of sums differs with the number of points.
    np.testing.assert_allclose(first.too_low[:, 1], again.too_low[:, 0], atol=1e-6)
    assert not first.too_high.any()
    assert (told.mean_low < told.mean).all()
    assert (told.mean < told.mean_high).all()
    assert (np.median(first.share, axis=0) > told.mean_low).all()
    assert isinstance(told.new_part_low, Unavailable)
    assert told.inside.all()
    wider = plain.share_draws(points, n_draws=2000, seed=5, model_form=0.3)
    assert wider.share[:, 0].std() >= first.share[:, 0].std() * 0.9


def test_mean_rate_over_the_runs_is_the_observed_one(plain):
    told = plain.predict(plain.settings, confidence=0.95)
    assert told.mean.mean() == pytest.approx(PASSED.sum() / 48, abs=1e-9)
    np.testing.assert_allclose(plain.checks.expected, told.mean, atol=1e-12)


@pytest.mark.parametrize(
    ("passed", "parts", "says"),
    [
        # One-sided exact limit, 1 − 0.05^(1/48) = 6.05 % (Clopper and Pearson 1934).
        (np.full(16, 3), 3, "at most 6.05 % fail"),
        (np.zeros(16, dtype=int), 1, "at most 17.1 % pass"),
    ],
)
def test_one_sided_records_have_exact_limits_and_no_tests(passed, parts, says):
    told = fitted(record(X, passed, parts=parts))
    assert isinstance(told, Unavailable)
    assert says in told.reason
    assert "no setting can be said to matter" in told.reason


def test_no_run_left_is_an_answer_with_a_reason():
    told = fitted(record(X[[0, 3, 5, 9, 14]], np.array([3, 1, 2, 3, 0]), parts=3))
    assert isinstance(told, Unavailable)
    assert "no run is left" in told.reason


def test_every_run_constant_in_itself_is_finite():
    fit = fitted(record(X, np.where(X[:, 0] > 0, 3, 0), parts=3))
    numbers = [one.estimate.high for one in fit.coefficients]
    assert np.isfinite(numbers).all()
    assert "No passes seen at idle -1 (24 parts)." in fit.notes


def test_shared_setups_judge_slow_factors_by_setups(shared):
    strata = {str(one.term): (one.stratum, one.error_df) for one in shared.tests}
    # idle, second and third change with the setup only: 8 setups, 4 columns with the mean.
    assert strata["idle"] == ("setup", 4)
    assert strata["third"] == ("setup", 4)
    assert strata["works"][0] == "run"
    assert shared.scatter[0].n_levels == 8
    assert shared.scatter[0].low <= shared.scatter[0].value <= shared.scatter[0].high
    point = shared.settings.rows(np.array([0]))
    for told in (
        shared.predict(point, confidence=0.95),
        shared.share_draws(point, n_draws=100, seed=1, model_form=0.0),
    ):
        assert isinstance(told, Unavailable)
        assert "new setup" in told.reason


def test_too_few_setups_are_said_instead_of_a_test():
    fit = fitted(record(X, PASSED, parts=3, setup=np.repeat(np.arange(1, 5), 4), slow=SLOW))
    assert isinstance(p(fit, "idle"), Unavailable)
    assert "too few setups to test" in p(fit, "idle").reason
    assert isinstance(p(fit, "works"), float)


def test_runs_that_differ_widen_tests_and_say_so():
    # Whole runs pass or fail together, whatever was set.
    passed = 3 * np.array([1, 0, 1, 1, 0, 1, 1, 0, 1, 1, 0, 1, 1, 1, 0, 1])
    fit = fitted(record(X, passed, parts=3))
    assert fit.dispersion > 1.5
    assert "runs differ by more than chance" in fit.model
    assert all(one.error_df == 11 for one in fit.tests)
    assert fit.believed.counts.parts.sum() == pytest.approx(48 / fit.dispersion)


def test_effects_are_told_per_step_of_the_lines_scatter(plain):
    temperature = Continuous(name="idle", low=-1, high=1, unit="", setting_sd=0.1)
    one = record(X, PASSED, parts=3)
    from dataclasses import replace

    from workbench.define.settings import Settings

    chosen = (temperature, *one.trial.factors[1:])
    settings = Settings(factors=chosen, values=one.as_run.values)
    fit = fitted(replace(one, trial=replace(one.trial, factors=chosen), as_run=settings))
    fact = next(each for each in fit.facts if each.name == "idle per setting_sd")
    whole = next(each for each in plain.effects if each.name == "idle").estimate
    assert fact.value.value == pytest.approx(whole.value ** (0.1 / 2), rel=1e-9)
    assert fact.value.high == pytest.approx(whole.high ** (0.1 / 2), rel=1e-9)


def test_it_is_what_the_public_name_gives():
    told = wb.fit.outcome(record(X, PASSED, parts=3), "wetted")
    assert told.kind == "pass-fail"
    assert [one.name for one in told.effects] == list(NAMES)


@pytest.mark.slow
def test_error_rates_in_short():
    """Short form of tests/studies/pass_fail_errors.py: bounds are four standard errors wide."""
    size, cover, working, _, apart, n = runs_study(25, base=2.0, sd=0.0, with_rates=False)
    assert n > 20
    assert size <= 0.22
    assert cover >= 0.78
    assert working >= 0.78
    assert apart > 0.1
    between, within, n = setups_study(40, parts=3, sd=1.0)
    assert n == 40
    assert between <= 0.19
    assert within <= 0.19
