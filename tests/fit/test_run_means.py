"""From a record to the runs that count: parts, blocks, lost and excluded runs."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from workbench.define.factors import Continuous
from workbench.define.outcomes import Counted, Graded, PassFail
from workbench.define.settings import settings
from workbench.errors import DefinitionError, FitError, Unavailable
from workbench.fit import outcome
from workbench.fit.run_means import Wanted, run_means
from workbench.run.record import Status


def two_level(k, names="abcdefg"):
    grid = np.array(np.meshgrid(*[[-1.0, 1.0]] * k, indexing="ij")).reshape(k, -1).T
    return pd.DataFrame(grid, columns=list(names[:k]))


def coded(names):
    return [Continuous(name=n, low=-1, high=1, unit="mm", setting_sd=None) for n in names]


def noise(n, seed=1):
    return np.random.default_rng(seed).normal(size=n)


class TestParts:
    """Parts within a run are averaged; only runs replicate."""

    @pytest.fixture
    def parts(self, record_of):
        table = pd.concat([two_level(2)] * 2, ignore_index=True)
        rows = np.repeat(np.arange(8), 3)
        values = 10 + 2 * table["a"].to_numpy()[rows] + noise(8)[rows] + 0.3 * noise(24, 2)
        return record_of(table, factors=coded("ab"), outcome="y", values=values, rows=rows)

    def test_run_means_and_part_scatter(self, parts):
        fit = outcome(parts, "y")
        values = parts.readings["y"].value.reshape(8, 3)
        np.testing.assert_allclose(fit.response, values.mean(axis=1))
        assert fit.error_df == 5
        assert fit.part_scatter.df == 16
        assert fit.part_scatter.variance == pytest.approx(values.var(axis=1, ddof=1).mean())
        assert fit.part_scatter.parts_per_run == pytest.approx(3)
        assert any("only runs replicate" in note for note in fit.notes)

    def test_new_part_varies_by_run_and_part(self, parts):
        fit = outcome(parts, "y")
        point = settings(fit.settings.factors, [{"a": 1, "b": 1}])
        found = fit.predict(point, confidence=0.95)
        between = fit.residual_variance * (1 + found.leverage[0])
        within = 2 / 3 * fit.part_scatter.variance
        df = (between + within) ** 2 / (between**2 / 5 + within**2 / 16)
        reach = stats.t.ppf(0.975, df) * np.sqrt(between + within)
        assert found.new_part_high[0] - found.mean[0] == pytest.approx(reach)

    def test_unequal_numbers_of_parts_are_said(self, record_of):
        table = pd.concat([two_level(1)] * 2, ignore_index=True)
        rows = [0, 0, 1, 2, 3, 3]
        record = record_of(
            table, factors=coded("a"), outcome="y", values=[1, 3, 5, 2, 6, 8], rows=rows
        )
        data = run_means(record, record.trial.outcome("y"), Wanted(factors=("a",)))
        np.testing.assert_allclose(data.response, [2, 5, 2, 7])
        assert data.part_scatter.parts_per_run == pytest.approx(1 / np.mean([0.5, 1, 1, 0.5]))
        assert any("Runs have 1 to 2 parts" in note for note in data.notes)
        # So each part is a row of its own, and the run a level that they share.
        assert "run" in [one.level for one in outcome(record, "y").scatter]

    def test_readings_are_averaged_within_the_part_first(self, record_of):
        table = two_level(1)
        record = record_of(
            table, factors=coded("a"), outcome="y", values=[1, 1, 4, 7], rows=[0, 0, 0, 1]
        )
        readings = record.readings["y"]
        split = replace(
            readings,
            part=np.array([1, 1, 2, 1]),
            reading=np.array([1, 2, 1, 1]),
        )
        fit = outcome(replace(record, readings={"y": split}), "y")
        np.testing.assert_allclose(fit.response, [2.5, 7])

    def test_parts_are_averaged_on_the_scale(self, record_of):
        table = two_level(1)
        record = record_of(
            table, factors=coded("a"), outcome="y", values=[1, 100, 5, 5], rows=[0, 0, 1, 1]
        )
        fit = outcome(record, "y", scale="log")
        np.testing.assert_allclose(np.exp(fit.response), [10, 5])


class TestBlocks:
    """Fixed blocks stand last; terms are adjusted for them."""

    def test_a_shift_between_blocks_is_not_an_effect(self, record_of):
        table = pd.concat([two_level(2)] * 3, ignore_index=True).drop(index=[0, 5])
        table["lot"] = ["A"] * 3 + ["B"] * 3 + ["C"] * 4
        shift = table["lot"].map({"A": 0.0, "B": 10.0, "C": -5.0})
        y = 2 * table["a"] + shift + 0.01 * noise(10)
        record = record_of(
            table.reset_index(drop=True), factors=coded("ab"), outcome="y", values=y, blocks="lot"
        )
        fit = outcome(record, "y")
        assert fit.n_block_columns == 2
        assert fit.column_names[-2:] == ("block [A]", "block [B]")
        assert fit.estimates[1] == pytest.approx(2, abs=0.02)
        assert str(fit.tests[-1].term) == "block"
        assert fit.tests[-1].df == 2
        # The mean is that of equally weighted blocks, whatever their sizes.
        assert fit.estimates[0] == pytest.approx(5 / 3, abs=0.02)
        assert any("taken as fixed" in note for note in fit.notes)

    def test_a_term_mixed_with_blocks_is_named(self, record_of):
        table = two_level(3)
        table["day"] = np.where(table["a"] * table["b"] * table["c"] > 0, "Mon", "Tue")
        record = record_of(table, factors=coded("abc"), outcome="y", values=noise(8), blocks="day")
        fit = outcome(record, "y", terms="a * b * c")
        (one,) = fit.aliased
        assert one.line == "a × b × c − block [Tue]"
        block = next(t for t in fit.tests if str(t.term) == "block")
        assert block.df == 0
        assert "cannot be told apart from a × b × c" in block.p.reason

    def test_repeats_count_within_a_block_only(self, record_of):
        table = pd.concat([two_level(1)] * 2, ignore_index=True)
        table["day"] = ["Mon", "Mon", "Tue", "Tue"]
        record = record_of(table, factors=coded("a"), outcome="y", values=noise(4), blocks="day")
        fit = outcome(record, "y")
        assert isinstance(fit.lack_of_fit, Unavailable)
        assert "no two runs" in fit.lack_of_fit.reason


class TestRows:
    """Which runs are in, and that the others are named."""

    def test_excluded_runs_and_both_answers(self, record_of):
        table = pd.concat([two_level(2)] * 2, ignore_index=True)
        record = record_of(
            table,
            factors=coded("ab"),
            outcome="y",
            values=noise(8),
            status={3: (Status.EXCLUDED, "nozzle was blocked"), 5: (Status.MISSING, "")},
        )
        without = outcome(record, "y")
        assert without.run.tolist() == [1, 2, 4, 6, 7, 8]
        assert without.n_excluded == 1
        assert any("Run 3 is left out: nozzle was blocked" in note for note in without.notes)
        assert any("run 5" in note for note in without.notes)
        both = outcome(record, "y", with_excluded=True)
        assert both.run.tolist() == [1, 2, 3, 4, 6, 7, 8]
        assert both.n_excluded == 0

    def test_a_missing_setting_drops_the_run_by_name(self, record_of):
        table = pd.concat([two_level(2)] * 2, ignore_index=True)
        record = record_of(table, factors=coded("ab"), outcome="y", values=noise(8))
        values = np.array(record.as_run.values)
        values[6, 1] = np.nan
        lost = replace(record, as_run=replace(record.as_run, values=values))
        fit = outcome(lost, "y")
        assert fit.run.tolist() == [1, 2, 3, 4, 5, 6, 8]
        assert any("run 7 (a setting" in note for note in fit.notes)
        # Without that factor in the model the run counts.
        assert 7 in outcome(lost, "y", terms="a").run

    def test_nothing_usable_is_refused(self, record_of):
        record = record_of(two_level(1), factors=coded("a"), outcome="y", values=[np.nan, np.nan])
        with pytest.raises(FitError, match="no run that can be fitted"):
            outcome(record, "y")

    def test_planned_settings_need_a_plan(self, record_of):
        record = record_of(two_level(1), factors=coded("a"), outcome="y", values=[1, 2])
        with pytest.raises(FitError, match="this record has none"):
            outcome(record, "y", uses_as_run=False)

    def test_readings_beyond_the_gauge_are_never_averaged(self, record_of):
        table = pd.concat([two_level(2)] * 4, ignore_index=True)
        record = record_of(table, factors=coded("ab"), outcome="y", values=range(16))
        marked = replace(record.readings["y"], mark=np.append(np.zeros(15, dtype=int), 1))
        assert outcome(record, "y").kind == "measured"
        assert outcome(replace(record, readings={"y": marked}), "y").kind == "censored"

    @pytest.mark.parametrize(
        ("other", "kind"),
        [
            (PassFail(name="y"), "pass-fail"),
            (Graded(name="y", grades=("none", "slight", "strong")), "graded"),
            (Counted(name="y", unit="skips"), "counted"),
        ],
        ids=["pass or fail", "grade", "count"],
    )
    def test_each_kind_has_its_own_model(self, record_of, other, kind):
        table = pd.concat([two_level(2)] * 4, ignore_index=True)
        values = [1, 0, 1, 1, 0, 0, 1, 1, 1, 0, 0, 1, 0, 1, 1, 0]
        record = record_of(table, factors=coded("ab"), outcome=other, values=values)
        fit = outcome(record, "y")
        assert fit.kind == kind
        assert fit.model
        assert {str(one.term) for one in fit.tests} == {"a", "b"}

    def test_unknown_outcome(self, record_of):
        record = record_of(two_level(1), factors=coded("a"), outcome="y", values=[1, 2])
        with pytest.raises(DefinitionError, match="no outcome 'z'"):
            outcome(record, "z")
