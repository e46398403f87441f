"""Which runs share a setup or a lot, and the mixed models of cases from the field."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from workbench.define.algebra import parse_terms
from workbench.define.factors import Categorical, Continuous
from workbench.define.outcomes import Measured, Requirement
from workbench.define.terms import PRESETS, preset
from workbench.errors import FitError, Unavailable
from workbench.fit import outcome
from workbench.fit.mixed_outcome import mixed_outcome
from workbench.fit.run_means import Wanted, run_means
from workbench.fit.strata import strata

CASES = Path(__file__).parents[1] / "cases"
BARS = pd.read_csv(CASES / "01_furnace_coating_splitplot" / "data.csv").astype({"temp_C": str})
BATCHES = pd.read_csv(CASES / "12_supplier_batch_nested" / "data.csv")
BLOCKS = pd.read_csv(CASES / "35_two_blocks_confounded" / "data.csv")


def structure_of(record, name, model, structure="as run"):
    factors = record.trial.factors
    terms = preset(model, factors) if model in PRESETS else parse_terms(model, factors)
    wanted = Wanted(factors=tuple(dict.fromkeys(n for one in terms.terms for n in one.factors)))
    asked = record.trial.outcome(name)
    data = run_means(record, asked, wanted)
    return asked, terms, wanted, strata(record, data, terms, structure=structure)


def fitted(record, name, model, **options):
    asked, terms, wanted, found = structure_of(record, name, model)
    return mixed_outcome(record, asked, terms, wanted=wanted, strata=found, **options)


def test_of(fit, name):
    return next(one for one in fit.tests if str(one.term) == name)


test_of.__test__ = False


def component(fit, level):
    return next(one for one in fit.scatter if one.level == level)


@pytest.fixture
def bars(record_of):
    record = record_of(BARS, factors=["temp_C", "coating"], outcome="resistance")
    return replace(record, setup=pd.factorize(BARS["heat"])[0] + 1)


class TestFurnaceHeats:
    """Coated bars: one temperature a heat, four coatings in each (Box, Hunter and Hunter)."""

    @pytest.fixture
    def fit(self, bars):
        return fitted(bars, "resistance", "interactions")

    @pytest.mark.parametrize(
        ("term", "df", "error_df", "statistic", "p", "stratum"),
        [
            ("temp_C", 2, 3, 2.75484, 0.20932, "between temp_C setups"),
            ("coating", 3, 9, 11.4798, 0.0019769, "within temp_C setups"),
            ("temp_C × coating", 6, 9, 4.37571, 0.024066, "within temp_C setups"),
        ],
    )
    def test_two_error_terms(self, fit, term, df, error_df, statistic, p, stratum):
        one = test_of(fit, term)
        assert (one.df, one.stratum) == (df, stratum)
        assert one.error_df == pytest.approx(error_df, rel=1e-8)
        assert one.statistic == pytest.approx(statistic, rel=1e-5)
        assert one.p == pytest.approx(p, rel=1e-4)

    def test_sums_of_squares_are_those_of_the_printed_table(self, fit):
        found = {str(one.term): one.sum_of_squares for one in fit.tests}
        assert found["temp_C"] == pytest.approx(26519.25)
        assert found["coating"] == pytest.approx(4289.125)
        assert found["temp_C × coating"] == pytest.approx(3269.75)

    def test_variances(self, fit):
        heat, bar = component(fit, "temp_C setup"), component(fit, "run")
        assert heat.value == pytest.approx(1172.1667, rel=1e-6)
        assert bar.value == pytest.approx(124.54167, rel=1e-6)
        assert heat.low < heat.value < heat.high
        assert (heat.n_levels, bar.n_levels) == (6, 24)

    def test_satterthwaite_agrees_where_the_plan_is_balanced(self, bars, fit):
        other = fitted(bars, "resistance", "interactions", method="Satterthwaite")
        assert other.method == "Satterthwaite"
        assert "Satterthwaite" in other.model
        for one, two in zip(fit.tests, other.tests, strict=True):
            assert two.error_df == pytest.approx(one.error_df, rel=1e-5)
            assert two.p == pytest.approx(one.p, rel=1e-5)

    def test_a_new_bar_comes_from_a_new_heat(self, fit):
        found = fit.predict(fit.settings.rows(np.array([0])), confidence=0.95)
        wide = found.new_part_high[0] - found.new_part_low[0]
        assert wide > 2 * 2 * np.sqrt(1172 + 124.5)
        assert wide > found.mean_high[0] - found.mean_low[0]

    def test_without_heats_named_the_groups_are_noticed(self, record_of):
        record = record_of(BARS, factors=["temp_C", "coating"], outcome="resistance")
        *_, found = structure_of(record, "resistance", "interactions")
        assert found.noticed == ("temp_C",)
        assert found.random == ()
        assert "nobody said that it is slow" in found.notes[0]
        assert 'structure = "in groups"' in found.notes[0]
        plain = outcome(record, "resistance", terms="interactions")
        assert "looks surer here than it is" in " ".join(plain.notes)
        assert test_of(plain, "temp_C").p == pytest.approx(0.0026, abs=5e-5)

    def test_groups_are_setups_where_somebody_says_so(self, record_of):
        record = record_of(BARS, factors=["temp_C", "coating"], outcome="resistance")
        *_, found = structure_of(record, "resistance", "interactions", "in groups")
        assert [one.n_levels for one in found.random] == [5]
        assert 'structure = "independent"' in found.notes[0]
        fit = outcome(record, "resistance", terms="interactions", structure="in groups")
        test = test_of(fit, "temp_C")
        assert test.stratum == "between temp_C setups"
        assert test.error_df < 2
        assert test.p > 0.3  # 0.0026 by the analysis that takes every run as a fresh heat

    def test_the_reading_names_the_setups(self, fit):
        assert "24 runs share 6 temp_C setups" in fit.reading
        assert "depends on coating" in fit.reading


class TestBatches:
    """Three determinations on each of four batches from each supplier; labels repeat."""

    @pytest.fixture
    def record(self, record_of):
        supplier = Categorical(
            name="Supplier", levels=("Supplier1", "Supplier2", "Supplier3"), slow=True
        )
        made = record_of(BATCHES, factors=[supplier], outcome="Purity")
        return replace(made, setup=pd.factorize(BATCHES["Batch"])[0] + 1)

    def test_suppliers_are_judged_by_batches(self, record):
        fit = fitted(record, "Purity", "first-order")
        one = test_of(fit, "Supplier")
        assert one.statistic == pytest.approx(0.969, abs=5e-4)
        assert one.error_df == pytest.approx(9, rel=1e-8)
        assert one.p == pytest.approx(0.4158, abs=5e-5)
        assert component(fit, "Supplier setup").value == pytest.approx(1.710, abs=5e-4)
        assert component(fit, "run").value == pytest.approx(2.639, abs=5e-4)
        assert any("come back with another setting of Supplier" in note for note in fit.notes)

    def test_batches_differ(self, record):
        fit = fitted(record, "Purity", "first-order")
        fact = next(one for one in fit.facts if "differ" in one.name)
        assert fact.value == pytest.approx(0.0167, abs=5e-5)
        assert "F(9, 24) = 2.944" in fact.words


class TestBlocks:
    def test_two_confounded_blocks_stay_fixed(self, record_of):
        record = record_of(BLOCKS, factors=["T", "P", "C", "W"], outcome="FR1", blocks="block")
        *_, found = structure_of(record, "FR1", "interactions")
        assert found.random == ()
        assert found.fixed_blocks

    @pytest.mark.parametrize(("lots", "kind"), [(5, "fixed"), (6, "random")])
    def test_few_lots_are_fixed_and_many_a_sample(self, record_of, lots, kind):
        rng = np.random.default_rng(1)
        table = pd.DataFrame({"a": np.tile([-1.0, 1, 1, -1], lots)})
        table["lot"] = np.repeat(np.arange(lots), 4).astype(str)
        table["y"] = rng.normal(size=len(table)) + np.repeat(rng.normal(size=lots), 4)
        record = record_of(table, factors=["a"], outcome="y", blocks="lot")
        *_, found = structure_of(record, "y", "first-order")
        assert found.fixed_blocks == (kind == "fixed")
        assert [one.what for one in found.random] == ([] if kind == "fixed" else ["block"])
        if kind == "random":
            fit = fitted(record, "y", "first-order")
            assert fit.n_block_columns == 0
            assert component(fit, "lot").n_levels == 6
            assert test_of(fit, "a").stratum == "within lots"

    def test_confounded_lots_stay_fixed_however_many(self, record_of):
        table = pd.DataFrame({"a": np.repeat([-1.0, 1] * 4, 3), "lot": np.repeat(range(8), 3)})
        table["b"] = np.tile([-1.0, 0, 1], 8)
        table["y"] = np.random.default_rng(3).normal(size=24)
        record = record_of(table, factors=["a", "b"], outcome="y", blocks="lot")
        *_, found = structure_of(record, "y", "first-order")
        assert found.fixed_blocks


class TestSetups:
    def slow_record(self, record_of, humidity, setup=None):
        slow = Continuous(name="humidity", low=40, high=60, unit="%", setting_sd=0, slow=True)
        table = pd.DataFrame({"humidity": humidity, "dwell": np.resize([1.0, 3, 3, 1, 2], 12)})
        table["y"] = np.random.default_rng(4).normal(size=12)
        record = record_of(table, factors=[slow, "dwell"], outcome="y")
        return record if setup is None else replace(record, setup=np.array(setup))

    def test_consecutive_runs_of_a_slow_factor_are_one_setup(self, record_of):
        record = self.slow_record(record_of, np.repeat([40.0, 60, 40, 60], 3))
        *_, found = structure_of(record, "y", "first-order")
        assert [one.n_levels for one in found.random] == [4]
        assert "No setups were numbered" in found.notes[0]

    def test_small_drifts_are_no_resets(self, record_of):
        drift = np.random.default_rng(2).normal(scale=0.3, size=12)
        record = self.slow_record(record_of, np.repeat([41.0, 59, 41, 59], 3) + drift)
        *_, found = structure_of(record, "y", "first-order")
        assert [one.n_levels for one in found.random] == [4]

    def test_numbered_setups_stand(self, record_of):
        numbers = np.repeat(np.arange(1, 7), 2)
        record = self.slow_record(record_of, np.repeat([40.0, 60, 40, 60], 3), numbers)
        *_, found = structure_of(record, "y", "first-order")
        # Setups 2 and 5 hold two humidities each, so they are two resets each.
        assert [one.n_levels for one in found.random] == [8]

    def test_overruled(self, record_of):
        numbers = np.repeat(np.arange(1, 5), 3)
        record = self.slow_record(record_of, np.repeat([40.0, 60, 40, 60], 3), numbers)
        *_, found = structure_of(record, "y", "first-order", "independent")
        assert found.random == ()
        assert "p-values of slow factors are too small" in found.notes[0]

    def test_an_unknown_structure_is_refused(self, record_of):
        record = self.slow_record(record_of, np.repeat([40.0, 60], 6))
        with pytest.raises(FitError, match="structure of the runs is given as 'loose'"):
            structure_of(record, "y", "first-order", "loose")

    def test_one_setup_a_setting_has_no_test(self, record_of):
        record = self.slow_record(record_of, np.repeat([40.0, 60], 6))
        fit = fitted(record, "y", "first-order")
        test = test_of(fit, "humidity")
        assert isinstance(test.p, Unavailable)
        assert "too few humidity setups to test" in test.p.reason
        assert not isinstance(test_of(fit, "dwell").p, Unavailable)
        effect = next(one for one in fit.effects if one.name == "humidity")
        assert isinstance(effect.estimate, Unavailable)
        prediction = fit.predict(fit.settings, confidence=0.95)
        assert isinstance(prediction, Unavailable)
        assert "a new part comes from a new humidity setup" in prediction.reason

    def test_one_setup_more_than_settings_is_too_few(self, record_of):
        record = self.slow_record(record_of, np.repeat([40.0, 60, 40], 4))
        fit = fitted(record, "y", "first-order")
        assert "too few humidity setups to test: 1 error" in test_of(fit, "humidity").p.reason
        assert not isinstance(fit.predict(fit.settings, confidence=0.95), Unavailable)

    def test_one_setup_in_all(self, record_of):
        record = self.slow_record(record_of, np.repeat(40.0, 12), np.ones(12, dtype=int))
        fit = fitted(record, "y", "dwell")
        assert not isinstance(test_of(fit, "dwell").p, Unavailable)
        assert isinstance(fit.coefficients[0].estimate, Unavailable)


class TestParts:
    """Runs with parts in differing numbers: each part is a row, runs replicate."""

    def record(self, record_of, counts, scale=0.0):
        rng = np.random.default_rng(11)
        counts = np.array(counts)
        table = pd.DataFrame({"a": np.resize([-1.0, 1], counts.size)})
        rows = np.repeat(np.arange(counts.size), counts)
        runs = rng.normal(size=counts.size) * scale
        values = 10 + table["a"].to_numpy()[rows] + runs[rows] + rng.normal(size=rows.size) * 0.3
        return record_of(table, factors=["a"], outcome="y", values=values, rows=rows)

    def test_equal_numbers_are_averaged(self, record_of):
        *_, found = structure_of(self.record(record_of, [3] * 8), "y", "first-order")
        assert found.random == ()

    def test_differing_numbers_are_weighed(self, record_of):
        fit = fitted(self.record(record_of, [3, 2, 4, 3, 1, 3, 3, 2], 1.0), "y", "first-order")
        assert fit.run.size == 21
        assert {one.level for one in fit.scatter} == {"run", "part"}
        one = test_of(fit, "a")
        assert one.stratum == "between runs"
        assert 5 < one.error_df < 7
        assert any("Runs have 1 to 4 parts" in note for note in fit.notes)

    def test_a_saturated_model_keeps_run_means(self, record_of):
        *_, found = structure_of(self.record(record_of, [3, 2]), "y", "first-order")
        assert found.random == ()


class TestBadInput:
    def record(self, record_of, y, setup):
        slow = Continuous(name="heat", low=-1, high=1, unit="", setting_sd=0, slow=True)
        table = pd.DataFrame(
            {"heat": np.repeat([-1.0, 1, -1, 1], 3), "b": np.resize([-1.0, 1, 1, -1], 12)}
        )
        table["y"] = y
        record = record_of(table, factors=[slow, "b"], outcome="y")
        return replace(record, setup=np.array(setup))

    def all_finite(self, fit):
        for one in fit.tests:
            for value in (one.statistic, one.p):
                assert isinstance(value, Unavailable) or np.isfinite(value)
        for one in fit.coefficients:
            assert isinstance(one.value, Unavailable) or np.isfinite(one.value)

    @pytest.mark.parametrize(
        ("y", "words"),
        [
            (np.full(12, 2.5), "no scatter to judge by"),
            (np.repeat([1.0, 4.0, 2.0, 6.0], 3), "read exactly alike"),
        ],
    )
    def test_outcomes_without_scatter(self, record_of, y, words):
        record = self.record(record_of, y, np.repeat([1, 2, 3, 4], 3))
        fit = fitted(record, "y", "first-order")
        self.all_finite(fit)
        assert all(isinstance(one.p, Unavailable) for one in fit.tests)
        assert words in test_of(fit, "b").p.reason
        assert isinstance(fit.predict(fit.settings, confidence=0.9), Unavailable)
        assert fit.scatter == ()

    def test_more_terms_than_runs(self, record_of):
        y = np.random.default_rng(1).normal(size=12)
        record = self.record(record_of, y, np.repeat([1, 2, 3, 4], 3))
        kept = replace(record, status=tuple(record.status))
        fit = fitted(kept, "y", "heat, b, heat * b, heat^2, b^2")
        self.all_finite(fit)
        assert fit.aliased or any("never changed" in note for note in fit.notes)


class TestShares:
    def record(self, record_of, n_setups=8):
        rng = np.random.default_rng(7)
        heat = Continuous(name="heat", low=-1, high=1, unit="", setting_sd=0, slow=True)
        setup = np.repeat(np.arange(n_setups), 4)
        table = pd.DataFrame(
            {
                "heat": np.resize([-1.0, 1], n_setups)[setup],
                "b": np.resize([-1.0, 1, 1, -1], setup.size),
            }
        )
        noise = rng.normal(size=n_setups)[setup] * 0.8 + rng.normal(size=setup.size) * 0.5
        table["y"] = 10 + table["heat"] + noise
        outcome = Measured(name="y", unit="N", requirement=Requirement(low=8.0))
        record = record_of(table, factors=[heat, "b"], outcome=outcome)
        return replace(record, setup=setup + 1)

    def test_new_parts_scatter_by_all_levels(self, record_of):
        fit = fitted(self.record(record_of), "y", "first-order")
        low = fit.settings.rows(np.array([0]))
        drawn = fit.share_draws(low, n_draws=2000, seed=3, model_form=0.0)
        prediction = fit.predict(low, confidence=0.95)
        total = sum(one.value for one in fit.scatter)
        from scipy.stats import norm

        plain = norm.sf((8 - prediction.mean[0]) / np.sqrt(total))
        assert np.median(drawn.share) == pytest.approx(plain, abs=0.03)
        assert np.ptp(np.quantile(drawn.share, [0.05, 0.95])) > 0.05
        again = fit.share_draws(low, n_draws=2000, seed=3, model_form=0.0)
        np.testing.assert_array_equal(again.too_low, drawn.too_low)

    def test_the_left_out_curve_is_the_same_process_at_kappa_zero(self, record_of):
        fit = fitted(self.record(record_of), "y", "first-order")
        middle = fit.settings.rows(np.array([0]))
        bent = fit.share_draws(middle, n_draws=500, seed=3, model_form=0.5)
        assert bent.share.shape == (500, 1)
        assert np.isfinite(bent.share).all()
