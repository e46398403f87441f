"""Graded outcomes at the level of the fit."""

from dataclasses import replace
from itertools import product

import numpy as np
import pandas as pd
import pytest

from workbench.define.algebra import parse_terms
from workbench.define.factors import Continuous
from workbench.define.outcomes import Graded, Requirement, at_least
from workbench.errors import FitError, Unavailable
from workbench.files.evidence import published
from workbench.fit.graded_outcome import graded_outcome
from workbench.fit.run_means import Wanted

WHITENING = Graded(
    name="whitening", grades=("none", "trace", "clear", "heavy"), requirement=Requirement(high=1)
)


def factor(name, *, slow=False):
    return Continuous(name=name, low=-1, high=1, unit="s", setting_sd=0.05, slow=slow)


def fitted(record, text):
    terms = parse_terms(text, record.trial.factors)
    names = tuple(dict.fromkeys(n for one in terms.terms for n in one.factors))
    return graded_outcome(record, record.trial.outcomes[0], terms, wanted=Wanted(factors=names))


def bonded(record_of, *, outcome=WHITENING, seed=2, parts=1, slow=False, effect=1.5):
    """An invented bond: more activator, more whitening."""
    rng = np.random.default_rng(seed)
    x = np.array(list(product((-1.0, 1.0), repeat=3)) * 3)
    rows = np.repeat(np.arange(24), parts)
    noise = np.log(1 / rng.random(rows.size) - 1)
    grade = np.digitize(effect * x[rows, 0] - noise, [-1.0, 0.5, 2.0])
    names = ("activator", "flash_off", "press")
    return record_of(
        pd.DataFrame(x, columns=names),
        factors=[factor(one, slow=slow and one == "activator") for one in names],
        outcome=outcome,
        values=grade,
        rows=rows,
    )


@pytest.mark.reference("R ordinal 2022.11.16, clm (without penalty)")
def test_visual_grades_stay_near_plain_maximum_likelihood(record_of):
    check = published("ordered_grades")
    table = check.tables["data"].assign(grade=lambda one: one.grade - 1)
    outcome = Graded(name="grade", grades=("1", "2", "3", "4"))
    record = record_of(table, factors=[factor(one) for one in "ABC"], outcome=outcome)
    found = fitted(record, "A, B, C")
    errors = check.expected["se"]
    for one in found.coefficients:
        plain = check.expected["coef"][one.name].value
        assert abs(one.value) < abs(plain)  # the penalty pulls towards nothing
        assert abs(one.value - plain) < 0.5 * errors[one.name].value
    assert found.tests[1].p < 0.01


class TestFace:
    @pytest.fixture
    def found(self, record_of):
        return fitted(bonded(record_of), "activator, flash_off, press")

    def test_effect_is_an_odds_ratio_with_its_interval(self, found):
        effect = found.effects[0]
        assert effect.is_ratio
        assert "odds of a higher grade" in effect.from_to
        assert effect.estimate.low < np.exp(3) < effect.estimate.high
        assert found.tests[0].p < 0.01
        assert "activator" in found.reading

    def test_says_whether_odds_are_proportional(self, found):
        told = [one for one in found.facts if one.name.startswith("one slope of")]
        assert len(told) == 3
        assert all(0 <= one.value <= 1 for one in told)

    def test_predicts_the_share_that_passes(self, found):
        there = found.predict(found.settings, confidence=0.9)
        low = found.settings.column("activator") < 0
        assert there.mean[low].min() > there.mean[~low].max()
        assert (there.mean_low < there.mean).all()
        assert (there.mean < there.mean_high).all()
        assert isinstance(there.new_part_low, Unavailable)

    def test_without_requirement_the_mean_grade(self, record_of):
        record = bonded(record_of, outcome=replace(WHITENING, requirement=None))
        there = fitted(record, "activator").predict(record.as_run, confidence=0.9)
        assert 0 < there.mean.min() < there.mean.max() < 3

    def test_shares_are_the_draws_behind_the_prediction(self, found):
        where = found.settings.rows(np.arange(8))
        shares = found.share_draws(where, n_draws=4000, seed=3, model_form=0.0)
        there = found.predict(where, confidence=0.9)
        # Planned and as-run settings agree here, so the setting error of 0.05 is added: little.
        np.testing.assert_allclose(shares.share.mean(axis=0), there.mean, atol=0.03)
        assert (shares.too_low == 0).all()

    def test_required_from_below_is_too_low(self, record_of):
        record = bonded(record_of, outcome=replace(WHITENING, requirement=at_least(2)))
        shares = fitted(record, "activator").share_draws(
            record.as_run, n_draws=500, seed=1, model_form=0.0
        )
        assert (shares.too_high <= 1e-6).all()
        assert shares.too_low.mean() > 0.3

    def test_draws_do_not_depend_on_the_points(self, found):
        asked = {"n_draws": 400, "seed": 5, "model_form": 0.2}
        whole = found.share_draws(found.settings, **asked).share
        alone = found.share_draws(found.settings.rows(np.array([6])), **asked).share
        np.testing.assert_allclose(whole[:, 6], alone[:, 0], atol=1e-5)


class TestStructure:
    def test_unused_grade_is_said_and_gets_no_chance(self, record_of):
        grades = ("none", "trace", "clear", "heavy", "burnt")
        record = bonded(record_of, outcome=Graded(name="whitening", grades=grades))
        found = fitted(record, "activator")
        assert any("'burnt'" in one for one in found.notes)
        assert found.used.tolist() == [0, 1, 2, 3]

    def test_parts_of_a_run_replicate_nothing(self, record_of):
        found = fitted(bonded(record_of, parts=3), "activator, flash_off")
        assert found.run.size == 24
        assert any("middle one of them" in one for one in found.notes)
        assert isinstance(found.predict(found.settings, confidence=0.9), Unavailable)

    def test_slow_factor_has_no_test_over_few_setups(self, record_of):
        record = bonded(record_of, slow=True)
        record = replace(record, setup=(record.as_run.column("activator") > 0).astype(np.int64))
        found = fitted(record, "activator, flash_off")
        by_term = {str(one.term): one.p for one in found.tests}
        assert isinstance(by_term["activator"], Unavailable)
        assert 0 <= by_term["flash_off"] <= 1
        shares = found.share_draws(found.settings, n_draws=10, seed=1, model_form=0.0)
        assert "new setup" in shares.reason

    def test_separated_grades_keep_finite_answers(self, record_of):
        record = bonded(record_of)
        old = record.readings["whitening"]
        value = np.where(record.as_run.column("activator") > 0, 3.0, 0.0)
        found = fitted(
            replace(record, readings={"whitening": replace(old, value=value)}), "activator"
        )
        effect = found.effects[0]
        assert np.isfinite([effect.value, effect.estimate.low, effect.estimate.high]).all()
        assert found.tests[0].p < 0.001


class TestNoAnswer:
    def test_one_grade_used(self, record_of):
        record = bonded(record_of)
        old = record.readings["whitening"]
        same = replace(old, value=np.ones(24))
        found = fitted(replace(record, readings={"whitening": same}), "activator")
        assert isinstance(found, Unavailable)
        assert "'trace'" in found.reason

    def test_more_columns_than_runs(self, record_of):
        record = bonded(record_of)
        old = record.readings["whitening"]
        few = type(old)(
            row=old.row[:4],
            part=old.part[:4],
            reading=old.reading[:4],
            value=np.array([0.0, 1, 2, 3]),
            mark=old.mark[:4],
        )
        found = fitted(
            replace(record, readings={"whitening": few}),
            "activator, flash_off, press, flash_off * press, activator * press",
        )
        assert isinstance(found, Unavailable)
        assert "fewer terms" in found.reason

    def test_what_is_no_grade(self, record_of):
        record = bonded(record_of)
        old = record.readings["whitening"]
        bad = replace(old, value=np.append(np.ones(23), 7.0))
        with pytest.raises(FitError, match="none, trace, clear, heavy"):
            fitted(replace(record, readings={"whitening": bad}), "activator")
