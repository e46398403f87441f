"""Counted outcomes at the level of the fit: field cases, structure, and what has no answer."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from workbench.define.algebra import parse_terms
from workbench.define.factors import Continuous, Role
from workbench.define.outcomes import Counted, at_most, between
from workbench.errors import FitError, Unavailable
from workbench.fit.counted_outcome import counted_outcome
from workbench.fit.run_means import Wanted
from workbench.run.record import Readings

CASES = Path(__file__).parents[1] / "cases"
SKIPS = Counted(name="skips", unit="skips", requirement=at_most(5))


def factor(name, *, role=Role.CONTROL, slow=False, low=-1.0, high=1.0):
    sd = 0.0 if role is Role.CONTROL else None
    return Continuous(name=name, low=low, high=high, unit="", setting_sd=sd, role=role, slow=slow)


def fitted(record, text, **asked):
    terms = parse_terms(text, record.trial.factors)
    names = tuple(dict.fromkeys(n for one in terms.terms for n in one.factors))
    outcome = record.trial.outcomes[0]
    return counted_outcome(record, outcome, terms, wanted=Wanted(factors=names), **asked)


def level(fit, name, wanted):
    """Return the sum-to-zero coefficient of a level."""
    known = {one.name: one.value for one in fit.coefficients}
    levels = next(f.levels for f in fit.settings.factors if f.name == name)
    if wanted != levels[-1]:
        return known[f"{name} [{wanted}]"]
    return -sum(known[f"{name} [{one}]"] for one in levels[:-1])


class TestSolderSkips:
    """Field case: averages call A6 worst because it was run mostly where skips are common."""

    @pytest.fixture
    def skips(self, record_of):
        table = pd.read_csv(CASES / "02_solder_skips_counts" / "data.csv")
        table["Panel"] = table["Panel"].astype(str)
        names = ["Opening", "Solder", "Mask", "PadType", "Panel"]
        return record_of(table, factors=names, outcome=SKIPS)

    @pytest.fixture
    def mains(self, skips):
        return fitted(skips, "Opening, Solder, Mask, PadType, Panel")

    def test_rate_ratios(self, mains):
        def ratio(name, of, to):
            return np.exp(level(mains, name, of) - level(mains, name, to))

        for mask, known in {"A3": 1.67, "B3": 3.33, "A6": 6.12, "B6": 6.47}.items():
            assert ratio("Mask", mask, "A1.5") == pytest.approx(known, abs=5e-3)
        assert ratio("Opening", "S", "L") == pytest.approx(6.14, abs=5e-3)
        assert ratio("Solder", "Thin", "Thick") == pytest.approx(2.33, abs=5e-3)
        assert ratio("Panel", "2", "1") == pytest.approx(1.38, abs=5e-3)
        assert ratio("Panel", "3", "1") == pytest.approx(1.37, abs=6e-3)

    def test_scatter_beyond_chance(self, mains):
        facts = {one.name: one.value for one in mains.facts}
        assert facts["dispersion"] == pytest.approx(2.00, abs=5e-3)
        assert facts["deviance"] / mains.error_df == pytest.approx(2.04, abs=5e-3)
        assert facts["spread"] == pytest.approx(0.221, abs=5e-4)
        assert any("1.42 times those of Poisson" in one for one in mains.notes)

    def test_names_the_three_missing_combinations(self, mains):
        said = " ".join(mains.notes)
        assert "Never run (Opening × Mask): L A6" in said
        assert "Never run (Opening × Solder × Mask): S Thick A6" in said

    def test_never_a_negative_count(self, skips, mains):
        there = mains.predict(skips.as_run, confidence=0.95)
        assert there.mean.min() > 0
        assert there.mean_low.min() > 0
        assert there.new_part_low.min() >= 0

    def test_product_is_not_wholly_estimable(self, skips):
        found = fitted(skips, "Opening, Solder, Mask, PadType, Panel, Opening * Mask")
        assert (found.structure.whole.rank, found.structure.whole.kept.size) == (26, 27)
        test = next(one for one in found.tests if str(one.term) == "Opening × Mask")
        assert test.df == 7
        assert found.aliased

    def test_shares_without_a_numeric_factor(self, skips, mains):
        shares = mains.share_draws(
            skips.as_run.rows(np.arange(4)), n_draws=300, seed=1, model_form=0.2
        )
        assert (shares.share >= 0).all()
        assert (shares.too_low == 0).all()


class TestCrackedPots:
    """Field case: out of 100; on the log odds the interaction of the per cent scale vanishes."""

    @pytest.fixture
    def pots(self, record_of):
        path = CASES / "06_cracked_pots_unicode_minus" / "data.txt"
        text = pd.read_csv(path, sep=" ", dtype=str, encoding="utf-8")
        table = text.map(lambda one: one.replace("\u2212", "-")).astype(float)
        outcome = Counted(name="Cracked", unit="pots", out_of=100, requirement=at_most(5))
        return record_of(table, factors=[factor(name) for name in "RTCD"], outcome=outcome)

    def test_log_odds(self, pots):
        found = fitted(pots, "R, T, C, D, R * C")
        known = {one.name: one.value for one in found.coefficients}
        for name, value in {
            "R": 0.455,
            "C": 0.534,
            "D": -0.310,
            "T": 0.038,
            "R × C": 0.046,
        }.items():
            assert known[name] == pytest.approx(value, abs=6e-4)
        facts = {one.name: one.value for one in found.facts}
        assert facts["dispersion"] == pytest.approx(1.10, abs=5e-3)

    def test_interaction_is_removable(self, pots):
        found = fitted(pots, "R, T, C, D, R * C")
        by_term = {str(one.term): one.p for one in found.tests}
        # Plain binomial: .54; here over the dispersion of 1.10 on 10 degrees of freedom.
        assert by_term["R × C"] == pytest.approx(0.54, abs=0.05)
        assert max(by_term[name] for name in "RCD") < 0.01
        assert by_term["T"] > 0.5

    def test_best_corner(self, pots):
        found = fitted(pots, "R, T, C, D")
        where = pots.as_run
        chance = found.share_draws(where, n_draws=800, seed=3, model_form=0.0).share.mean(axis=0)
        best = where.as_dicts()[int(chance.argmax())]
        assert (best["R"], best["C"], best["D"]) == (-1, -1, 1)


def invented(record_of, *, spread=0.0, parts=1, seed=4, out_of=None, exposure=False, slow=False):
    rng = np.random.default_rng(seed)
    x = np.array([[a, b] for a in (-1.0, 1.0) for b in (-1.0, 0.0, 1.0)] * 3)
    area = rng.choice([0.5, 1.0, 2.0], len(x)) if exposure else np.ones(len(x))
    rate = 6 * np.exp(0.6 * x[:, 0]) * (rng.gamma(1 / spread, spread, len(x)) if spread else 1)
    table = pd.DataFrame(x, columns=["heat", "feed"]).assign(area=area)
    factors = [factor("heat", slow=slow), factor("feed")]
    if exposure:
        factors.append(factor("area", role=Role.OBSERVED, low=0.5, high=2.0))
    rows = np.repeat(np.arange(len(x)), parts)
    if out_of is None:
        seen = rng.poisson((rate * area)[rows])
    else:
        seen = rng.binomial(out_of, np.clip(rate / 30, 0, 1)[rows])
    outcome = Counted(name="skips", unit="skips", out_of=out_of, requirement=at_most(8))
    return record_of(table, factors=factors, outcome=outcome, values=seen, rows=rows)


class TestFace:
    def test_effect_is_a_ratio_with_its_interval(self, record_of):
        effect = fitted(invented(record_of), "heat, feed").effects[0]
        assert effect.is_ratio
        assert effect.estimate.low < np.exp(1.2) < effect.estimate.high
        assert "ratio of counts" in effect.from_to

    def test_parts_are_added_up(self, record_of):
        found = fitted(invented(record_of, parts=3), "heat, feed")
        assert found.run.size == 18
        assert found.error_df == 15
        assert any("added up" in one for one in found.notes)
        there = found.predict(found.settings, confidence=0.9)
        assert there.mean.max() < 20  # of one part, not of three

    def test_exposure(self, record_of):
        record = invented(record_of, exposure=True, seed=9)
        with_area = fitted(record, "heat, feed", exposure="area")
        without = fitted(record, "heat, feed")
        assert with_area.problem.dispersion < without.problem.dispersion
        where = record.as_run
        there = with_area.predict(where, confidence=0.9)
        ratio = there.mean / where.column("area")
        same = (where.column("heat") == 1) & (where.column("feed") == 0)
        np.testing.assert_allclose(ratio[same], ratio[same][0], rtol=1e-9)

    def test_shares_follow_the_poisson_law_where_rates_are_even(self, record_of):
        found = fitted(invented(record_of, parts=20), "heat, feed")
        middle = found.settings.rows(np.array([1]))
        shares = found.share_draws(middle, n_draws=2000, seed=1, model_form=0.0).share
        from scipy.stats import poisson

        assert shares.mean() == pytest.approx(poisson.cdf(8, 6 * np.exp(-0.6)), abs=0.03)

    def test_out_of_keeps_within_its_places(self, record_of):
        found = fitted(invented(record_of, out_of=12), "heat, feed")
        there = found.predict(found.settings, confidence=0.95)
        assert there.new_part_high.max() <= 12
        assert found.effects[0].from_to.endswith("ratio of odds")

    def test_draws_do_not_depend_on_the_points(self, record_of):
        found = fitted(invented(record_of, spread=0.3), "heat, feed")
        asked = {"n_draws": 400, "seed": 5, "model_form": 0.2}
        whole = found.share_draws(found.settings, **asked).share
        alone = found.share_draws(found.settings.rows(np.array([4])), **asked).share
        np.testing.assert_allclose(whole[:, 4], alone[:, 0], atol=1e-5)

    def test_two_sided_requirement_keeps_its_sides(self, record_of):
        record = invented(record_of)
        outcome = replace(record.trial.outcomes[0], requirement=between(3, 8))
        record = replace(record, trial=replace(record.trial, outcomes=(outcome,)))
        found = fitted(record, "heat, feed")
        shares = found.share_draws(found.settings, n_draws=500, seed=1, model_form=0.0)
        assert shares.too_low.mean(axis=0)[0] > shares.too_low.mean(axis=0)[5]
        assert shares.too_high.mean(axis=0)[0] < shares.too_high.mean(axis=0)[5]

    def test_slow_factor_has_no_test_over_few_setups(self, record_of):
        record = invented(record_of, slow=True)
        record = replace(record, setup=(record.as_run.column("heat") > 0).astype(np.int64))
        found = fitted(record, "heat, feed")
        by_term = {str(one.term): one.p for one in found.tests}
        assert isinstance(by_term["heat"], Unavailable)
        assert 0 <= by_term["feed"] <= 1
        assert isinstance(found.predict(found.settings, confidence=0.9), Unavailable)


class TestNoAnswer:
    def counts(self, record_of, values, out_of=None):
        record = invented(record_of, out_of=out_of)
        old = record.readings["skips"]
        new = replace(old, value=np.array(values, dtype=float))
        return replace(record, readings={"skips": new})

    def test_no_count_anywhere(self, record_of):
        found = fitted(self.counts(record_of, np.zeros(18)), "heat, feed")
        assert isinstance(found, Unavailable)
        assert "no skips were counted" in found.reason

    def test_every_place_counted(self, record_of):
        found = fitted(self.counts(record_of, np.full(18, 12), out_of=12), "heat, feed")
        assert isinstance(found, Unavailable)

    def test_nothing_counted_at_one_setting(self, record_of):
        record = invented(record_of)
        low = record.as_run.column("heat") < 0
        values = np.where(low, 0, record.readings["skips"].value)
        found = fitted(self.counts(record_of, values), "heat, feed")
        assert found.effects[0].value == np.inf
        assert "at least ×" in found.effects[0].estimate.reason
        shares = found.share_draws(found.settings, n_draws=300, seed=1, model_form=0.0).share
        assert np.isfinite(shares).all()

    @pytest.mark.parametrize(
        ("bad", "out_of", "words"),
        [(-1, None, "never below zero"), (2.5, None, "whole number"), (13, 12, "12 places")],
    )
    def test_what_is_no_count(self, record_of, bad, out_of, words):
        values = np.append(np.full(17, 3.0), bad)
        with pytest.raises(FitError, match=words):
            fitted(self.counts(record_of, values, out_of=out_of), "heat, feed")

    def test_same_count_everywhere(self, record_of):
        found = fitted(self.counts(record_of, np.full(18, 4)), "heat, feed")
        assert found.effects[0].value == pytest.approx(1.0)
        assert found.tests[0].p == pytest.approx(1.0)

    def test_more_columns_than_runs(self, record_of):
        record = invented(record_of)
        keep = np.arange(18) < 3
        old = record.readings["skips"]
        few = Readings(
            row=old.row[keep],
            part=old.part[keep],
            reading=old.reading[keep],
            value=old.value[keep],
            mark=old.mark[keep],
        )
        found = fitted(replace(record, readings={"skips": few}), "heat, feed, heat * feed, feed^2")
        assert isinstance(found.effects[0].estimate, Unavailable) if found.effects else True
        assert all(isinstance(one.p, Unavailable) for one in found.tests)
        assert isinstance(found.predict(found.settings, confidence=0.9), Unavailable)

    def test_broken_off_counts(self, record_of):
        record = invented(record_of)
        old = record.readings["skips"]
        new = replace(old, mark=np.append(np.zeros(17, dtype=np.int64), 1))
        found = fitted(replace(record, readings={"skips": new}), "heat, feed")
        assert "broken off" in found.reason
