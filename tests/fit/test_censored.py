"""Outcomes whose readings are partly cut off, at the level of the fit."""

from dataclasses import replace
from itertools import product
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from workbench.define.algebra import parse_terms
from workbench.define.factors import Continuous
from workbench.define.outcomes import Measured, at_least, between
from workbench.define.settings import settings
from workbench.errors import FitError, Unavailable
from workbench.fit import outcome as fit_outcome
from workbench.fit.censored import CensoredFit
from workbench.fit.censored_outcome import censored_outcome
from workbench.fit.run_means import Wanted
from workbench.run.record import Readings

CASES = Path(__file__).parents[1] / "cases"


def factor(name, low=-1.0, high=1.0, *, unit="mm", setting_sd=0.0, slow=False):
    return Continuous(name=name, low=low, high=high, unit=unit, setting_sd=setting_sd, slow=slow)


def marked(record, name, marks):
    """Return the record with marks on its readings."""
    old = record.readings[name]
    new = Readings(
        row=old.row, part=old.part, reading=old.reading, value=old.value, mark=np.array(marks)
    )
    return replace(record, readings={name: new})


def fitted(record, text, **asked):
    outcome = record.trial.outcomes[0]
    terms = parse_terms(text, record.trial.factors)
    names = tuple(dict.fromkeys(n for one in terms.terms for n in one.factors))
    return censored_outcome(record, outcome, terms, wanted=Wanted(factors=names), **asked)


def cut_trial(
    record_of, *, cut=30.0, seed=3, scale="as read", setting_sd=0.0, slow=False, repeats=2
):
    """An invented pull test: 2³ plan, strength rises with drop volume, gauge ends at `cut`."""
    rng = np.random.default_rng(seed)
    x = np.array(list(product((-1.0, 1.0), repeat=3)) * repeats)
    strength = 26 + 4 * x[:, 0] - 2 * x[:, 1] + 2 * rng.standard_normal(len(x))
    seen = np.minimum(strength, cut)
    table = pd.DataFrame(x, columns=["volume", "press", "wait"]).assign(force=seen)
    names = ("volume", "press", "wait")
    record = record_of(
        table,
        factors=[factor(n, setting_sd=setting_sd, slow=slow and n == "volume") for n in names],
        outcome=Measured(name="force", unit="N", scale=scale, requirement=at_least(22)),
    )
    return marked(record, "force", np.where(strength > cut, 1, 0))


class TestInsulationLife:
    """Field case: 130 °C is outside what was run; Weibull 42 086 h, lognormal 47 135 h."""

    @pytest.fixture
    def life(self, record_of):
        table = pd.read_csv(CASES / "11_insulation_life_censored" / "data.csv")
        table["x"] = 11605 / (table["temp"] + 273.15)
        record = record_of(
            table,
            factors=[factor("x", table["x"].min(), table["x"].max(), unit="1/eV")],
            outcome=Measured(name="time", unit="h", scale="log", requirement=at_least(1000)),
        )
        return marked(record, "time", np.where(table["cens"] == 0, 1, 0))

    @pytest.fixture
    def cool(self, life):
        return settings(life.trial.factors, [{"x": 11605 / (130 + 273.15)}])

    def test_weibull(self, life, cool):
        found = fitted(life, "x", distribution="Weibull")
        low, high = life.trial.factors[0].low, life.trial.factors[0].high
        mean, slope = found.problem.solution.estimates
        per_unit = 2 * slope / (high - low)
        assert per_unit == pytest.approx(0.8379, abs=5e-5)
        assert mean - per_unit * (low + high) / 2 == pytest.approx(-13.353, abs=5e-4)
        assert found.problem.solution.sigma == pytest.approx(0.3254, abs=5e-5)
        there = found.predict(cool, confidence=0.95)
        assert there.mean[0] == pytest.approx(42086, abs=1)
        assert there.mean_low[0] < 42086 < there.mean_high[0]
        assert not there.inside[0]

    def test_lognormal_agrees_within_15_percent(self, life, cool):
        lognormal = fitted(life, "x").predict(cool, confidence=0.95)
        assert lognormal.mean[0] == pytest.approx(47135, abs=1)
        assert lognormal.mean[0] / 42086 < 1.15

    def test_effect_is_a_ratio_with_its_interval(self, life):
        effect = fitted(life, "x", distribution="Weibull").effects[0]
        assert effect.is_ratio
        assert effect.estimate.low < effect.value < effect.estimate.high
        assert effect.value == pytest.approx(26.1, abs=0.05)


class TestPullThatStopsEarly:
    def test_has_the_common_face(self, record_of):
        found = fitted(cut_trial(record_of), "volume, press, wait")
        assert isinstance(found, CensoredFit)
        assert found.kind == "censored"
        assert "only known to lie" in found.model
        assert found.tests[0].p < 0.005
        assert found.effects[0].unit == "N"
        assert found.effects[0].estimate.low < 8 < found.effects[0].estimate.high
        assert any("gave way first" in one for one in found.notes)
        assert "volume" in found.reading
        assert np.isfinite(found.checks.residual).all()

    def test_is_above_the_answer_that_takes_the_limit_as_read(self, record_of):
        record = cut_trial(record_of, cut=28.0)
        honest = fitted(record, "volume, press, wait")
        naive = fit_outcome(
            marked(record, "force", np.zeros(16, dtype=int)), "force", terms="first-order"
        )
        assert honest.effects[0].value > naive.effects[0].value

    def test_without_marks_it_is_least_squares(self, record_of):
        record = marked(cut_trial(record_of, cut=99.0), "force", np.zeros(16, dtype=int))
        one = fitted(record, "volume, press, wait")
        other = fit_outcome(record, "force", terms="first-order")
        for ours, theirs in zip(one.effects, other.effects, strict=True):
            assert ours.value == pytest.approx(theirs.value, rel=1e-6)
            assert ours.estimate.std_error == pytest.approx(theirs.estimate.std_error, rel=1e-5)
            assert ours.estimate.low == pytest.approx(theirs.estimate.low, rel=1e-4, abs=1e-4)
            assert ours.p == pytest.approx(theirs.p, rel=1e-4)
        assert one.error_df == other.error_df
        assert one.residual_sd == pytest.approx(other.residual_sd, rel=1e-6)
        where = record.as_run.rows(np.arange(4))
        ours, theirs = (fit.predict(where, confidence=0.9) for fit in (one, other))
        np.testing.assert_allclose(ours.mean, theirs.mean, rtol=1e-6)
        np.testing.assert_allclose(ours.mean_low, theirs.mean_low, atol=0.25)
        np.testing.assert_allclose(ours.new_part_high, theirs.new_part_high, atol=0.45)
        np.testing.assert_allclose(ours.leverage, theirs.leverage, atol=1e-9)

    def test_shares_without_marks_are_those_of_measured_fits(self, record_of):
        record = marked(
            cut_trial(record_of, cut=99.0, setting_sd=0.1), "force", np.zeros(16, dtype=int)
        )
        where = record.as_run.rows(np.arange(8))
        # Measured fits learn the model form from the runs and cut-off ones do not yet: left out.
        one, other = (
            fit.share_draws(where, n_draws=4000, seed=2, model_form=0.0).share.mean(axis=0)
            for fit in (
                fitted(record, "volume, press, wait"),
                fit_outcome(record, "force", terms="first-order"),
            )
        )
        np.testing.assert_allclose(one, other, atol=0.02)

    def test_draws_do_not_depend_on_the_points(self, record_of):
        found = fitted(cut_trial(record_of, setting_sd=0.1), "volume, press, wait")
        where = found.settings
        asked = {"n_draws": 500, "seed": 5, "model_form": 0.2}
        whole = found.share_draws(where, **asked).share
        alone = found.share_draws(where.rows(np.array([3])), **asked).share
        np.testing.assert_allclose(whole[:, 3], alone[:, 0], atol=1e-6)

    def test_weibull_shares_agree_with_lognormal_in_the_middle(self, record_of):
        record = cut_trial(record_of, scale="log", setting_sd=0.05)
        where = record.as_run.rows(np.array([4, 5]))
        shares = [
            fitted(record, "volume, press, wait", distribution=one)
            .share_draws(where, n_draws=1000, seed=1, model_form=0.0)
            .share.mean()
            for one in ("Weibull", "normal")
        ]
        assert shares[0] == pytest.approx(shares[1], abs=0.06)

    def test_turned_scale_keeps_sides(self, record_of):
        """On the inverse scale a reading cut off above is one below."""
        record = cut_trial(record_of, scale="inverse")
        record = replace(
            record,
            trial=replace(
                record.trial,
                outcomes=(
                    Measured(name="force", unit="N", scale="inverse", requirement=between(10, 60)),
                ),
            ),
        )
        found = fitted(record, "volume, press, wait")
        assert (found.problem.rows.pull[record.readings["force"].mark > 0] == -1).all()
        there = found.predict(found.settings, confidence=0.9)
        assert (there.mean_low < there.mean).all()
        assert (there.mean < there.mean_high).all()
        assert there.mean[4] > there.mean[0]


class TestWithoutFiniteEstimate:
    @pytest.fixture
    def open_cell(self, record_of):
        record = cut_trial(record_of, cut=99.0)
        run_at = record.as_run.column
        both = (run_at("volume") > 0) & (run_at("press") > 0)
        return marked(record, "force", both.astype(int))

    def test_one_end_is_said_in_words(self, open_cell):
        found = fitted(open_cell, "volume, press, wait, volume * press")
        product_effect = found.effects[-1]
        assert product_effect.value == np.inf
        assert "at least" in product_effect.estimate.reason
        assert any("one side only" in one for one in found.notes)

    def test_predictions_and_shares_stay_finite(self, open_cell):
        found = fitted(open_cell, "volume, press, wait, volume * press")
        there = found.predict(found.settings, confidence=0.95)
        for one in (there.mean, there.mean_low, there.new_part_high):
            assert np.isfinite(one).all()
        shares = found.share_draws(found.settings, n_draws=500, seed=1, model_form=0.0).share
        assert np.isfinite(shares).all()
        assert shares.min() >= -1e-6


class TestStructure:
    def test_slow_factor_has_no_test_over_few_setups(self, record_of):
        record = cut_trial(record_of, slow=True)
        record = replace(
            record, setup=(record.as_run.column("volume") > 0).astype(np.int64) * 2 + 1
        )
        found = fitted(record, "volume, press, wait")
        by_term = {str(one.term): one for one in found.tests}
        assert isinstance(by_term["volume"].p, Unavailable)
        assert "reset only 2 times" in by_term["volume"].p.reason
        assert by_term["press"].p < 0.05
        assert isinstance(found.effects[0].estimate, Unavailable)
        assert found.effects[0].value > 0
        assert isinstance(found.predict(found.settings, confidence=0.9), Unavailable)
        shares = found.share_draws(found.settings, n_draws=10, seed=1, model_form=0.0)
        assert "new setup" in shares.reason

    def test_several_parts_a_run_are_not_taken_as_runs(self, record_of):
        record = cut_trial(record_of)
        old = record.readings["force"]
        twice = Readings(
            row=np.repeat(old.row, 2),
            part=np.tile([1, 2], len(old)),
            reading=np.ones(2 * len(old), dtype=np.int64),
            value=np.repeat(old.value, 2),
            mark=np.repeat(old.mark, 2),
        )
        one = fitted(record, "volume, press, wait")
        found = fitted(replace(record, readings={"force": twice}), "volume, press, wait")
        assert found.error_df == one.error_df
        assert found.tests[0].p == pytest.approx(one.tests[0].p)
        assert any("replicate nothing" in note for note in found.notes)
        assert "single parts scatter" in found.predict(found.settings, confidence=0.9).reason

    def test_repeats_on_one_part_are_no_replicates(self, record_of):
        record = cut_trial(record_of)
        old = record.readings["force"]
        twice = Readings(
            row=np.repeat(old.row, 3),
            part=np.ones(3 * len(old), dtype=np.int64),
            reading=np.tile([1, 2, 3], len(old)),
            value=np.repeat(old.value, 3),
            mark=np.repeat(old.mark, 3),
        )
        one = fitted(record, "volume, press, wait")
        other = fitted(replace(record, readings={"force": twice}), "volume, press, wait")
        assert other.error_df == one.error_df
        assert other.effects[0].estimate.low == pytest.approx(one.effects[0].estimate.low)
        assert any("no replicates" in note for note in other.notes)


class TestNoAnswer:
    def test_everything_cut_off(self, record_of):
        record = marked(cut_trial(record_of), "force", np.ones(16, dtype=int))
        found = fitted(record, "volume")
        assert isinstance(found, Unavailable)
        assert "every reading is cut off" in found.reason

    def test_too_few_exact_readings(self, record_of):
        record = marked(
            cut_trial(record_of, repeats=1), "force", np.array([0, 0, 0, 0, 1, 1, 1, 1])
        )
        found = fitted(record, "volume, press, wait, volume * press, volume * wait, press * wait")
        assert isinstance(found, Unavailable)

    def test_same_reading_everywhere(self, record_of):
        record = cut_trial(record_of, cut=1.0)
        found = fitted(marked(record, "force", np.zeros(16, dtype=int)), "volume")
        assert isinstance(found, Unavailable)
        assert "no scatter" in found.reason

    def test_weibull_needs_the_log_scale(self, record_of):
        with pytest.raises(FitError, match="Weibull on the as read scale"):
            fitted(cut_trial(record_of), "volume", distribution="Weibull")

    def test_zero_has_no_logarithm(self, record_of):
        with pytest.raises(FitError, match="log scale exists for values above zero"):
            fitted(cut_trial(record_of, cut=0.0, scale="log"), "volume")

    def test_unknown_distribution(self, record_of):
        with pytest.raises(FitError, match="Use one of: normal, Weibull"):
            fitted(cut_trial(record_of), "volume", distribution="gamma")

    def test_points_of_other_factors(self, record_of):
        found = fitted(cut_trial(record_of), "volume")
        with pytest.raises(FitError, match="This fit is over"):
            found.predict(settings([factor("other")], [{"other": 0.0}]), confidence=0.9)
