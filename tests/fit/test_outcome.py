"""What a fit does with mixed terms, scales, models and nothing to judge by."""

import re

import numpy as np
import pandas as pd
import pytest

from workbench.define.factors import Categorical, Continuous, Role
from workbench.define.outcomes import Measured
from workbench.define.settings import settings
from workbench.errors import FitError, Unavailable
from workbench.fit import outcome, reading, sequential_tests
from workbench.fit.scales import off_scale, on_scale


def two_level(k, names="abcdefg"):
    grid = np.array(np.meshgrid(*[[-1.0, 1.0]] * k, indexing="ij")).reshape(k, -1).T
    return pd.DataFrame(grid, columns=list(names[:k]))


def coded(names):
    return [Continuous(name=n, low=-1, high=1, unit="mm", setting_sd=None) for n in names]


def noise(n, seed=1):
    return np.random.default_rng(seed).normal(size=n)


class TestMixedTerms:
    """More terms than runs can tell: joint lines, no exception."""

    def test_half_fraction_with_all_interactions(self, record_of):
        table = two_level(3)
        table["d"] = table["a"] * table["b"] * table["c"]
        fit = outcome(
            record_of(table, factors=coded("abcd"), outcome="y", values=noise(8)),
            "y",
            terms="interactions",
        )
        assert fit.error_df == 0
        assert {one.line for one in fit.aliased} == {
            "a × b + c × d",
            "a × c + b × d",
            "a × d + b × c",
        }
        names = [one.name for one in fit.effects]
        assert "a × b + c × d" in names
        assert len(names) == 7
        lost = next(one for one in fit.coefficients if one.name == "c × d")
        assert "cannot be told apart from a × b" in lost.value.reason
        assert fit.pseudo_error.n_effects == 7

    def test_signs_of_a_joint_line(self, record_of):
        table = two_level(2)
        table["c"] = -table["a"] * table["b"]
        fit = outcome(
            record_of(table, factors=coded("abc"), outcome="y", values=noise(4)),
            "y",
            terms="interactions",
        )
        assert {one.line for one in fit.aliased} == {"a − b × c", "b − a × c", "c − a × b"}

    def test_centre_runs_see_the_sum_of_squares_only(self, record_of):
        table = pd.concat(
            [two_level(2), pd.DataFrame({"a": [0.0] * 3, "b": [0.0] * 3})], ignore_index=True
        )
        y = 5 + 3 * (table["a"] ** 2) + 0.1 * noise(7)
        fit = outcome(
            record_of(table, factors=coded("ab"), outcome="y", values=y), "y", terms="second-order"
        )
        assert [one.line for one in fit.aliased] == ["a² + b²"]
        assert any(one.name == "a² + b²" for one in fit.effects)
        points = settings(
            fit.settings.factors, [{"a": 0, "b": 0}, {"a": 1, "b": 1}, {"a": 0, "b": 1}]
        )
        # The edge middle needs a² and b² apart, which was never observed.
        assert fit.predict(points, confidence=0.9).inside.tolist() == [True, True, False]

    def test_a_constant_factor_says_nothing(self, record_of):
        table = two_level(2)
        table["c"] = 1.0
        fit = outcome(record_of(table, factors=coded("abc"), outcome="y", values=noise(4)), "y")
        assert [one.line for one in fit.aliased] == ["mean + c"]

    def test_natural_units_do_not_share_out_a_joint_square(self, record_of):
        factors = [Continuous(name=n, low=10, high=30, unit="", setting_sd=None) for n in "ab"]
        table = pd.concat([two_level(2) * 10 + 20, pd.DataFrame({"a": [20.0], "b": [20.0]})])
        fit = outcome(
            record_of(table.reset_index(drop=True), factors=factors, outcome="y", values=noise(5)),
            "y",
            terms="second-order",
        )
        value = {one.name: one.value for one in fit.natural_coefficients}
        assert isinstance(value["a"], Unavailable)
        assert isinstance(value["a²"], float)

    def test_empty_cell_gives_the_true_df(self, record_of):
        # A 2 x 3 layout with one empty cell: the product has one degree of freedom, not two.
        rows = [(p, q) for p in "LH" for q in "uvw" if (p, q) != ("H", "w")]
        table = pd.DataFrame(rows * 2, columns=["p", "q"])
        record = record_of(table, factors=["p", "q"], outcome="y", values=noise(10))
        fit = outcome(record, "y", terms="interactions")
        test = next(one for one in fit.tests if str(one.term) == "p × q")
        assert (test.df, fit.error_df) == (1, 5)
        cells = [table.assign(y=noise(10)).groupby(["p", "q"])["y"].mean()[c] for c in rows]
        mean = dict(zip(rows, cells, strict=True))
        contrast = mean["L", "u"] - mean["L", "v"] - mean["H", "u"] + mean["H", "v"]
        squares = contrast**2 / (4 / 2)
        assert test.sum_of_squares == pytest.approx(squares)


class TestNothingToJudgeBy:
    """Constant outcomes and exact models are answers."""

    def test_constant_outcome(self, record_of):
        table = pd.concat([two_level(2)] * 2, ignore_index=True)
        record = record_of(table, factors=coded("ab"), outcome="y", values=[0.1] * 8)
        fit = outcome(record, "y")
        assert all(one.value == 0 for one in fit.effects)
        assert "constant" in fit.r_squared.reason
        assert fit.residual_variance == 0
        assert all(isinstance(one.p, Unavailable) for one in fit.tests)
        assert any("same mean in every run" in note for note in fit.notes)
        found = fit.predict(fit.settings, confidence=0.95)
        np.testing.assert_allclose(found.mean, 0.1)
        assert "did not change" in reading(fit)

    def test_exact_model(self, record_of):
        table = pd.concat([two_level(2)] * 2, ignore_index=True)
        y = 1e6 + 3 * table["a"]
        fit = outcome(record_of(table, factors=coded("ab"), outcome="y", values=y), "y")
        assert fit.residual_variance == 0
        assert isinstance(fit.tests[0].p, Unavailable)

    def test_constant_saturated(self, record_of):
        record = record_of(two_level(3), factors=coded("abc"), outcome="y", values=[3.0] * 8)
        fit = outcome(record, "y", terms="a * b * c")
        assert "constant" in fit.pseudo_error.reason

    def test_run_met_exactly_is_flagged(self, record_of):
        table = pd.concat([two_level(1)] * 3, ignore_index=True)
        table["g"] = ["u"] * 5 + ["v"]
        fit = outcome(
            record_of(table, factors=[*coded("a"), "g"], outcome="y", values=noise(6)), "y"
        )
        assert fit.diagnostics.undefined.tolist() == [False] * 5 + [True]
        assert isinstance(fit.predicted_r_squared, Unavailable)
        assert any("run 6 exactly" in note for note in fit.notes)
        assert np.isfinite(fit.diagnostics.studentised).all()


class TestScales:
    """Scales for values above zero, there and back."""

    def test_a_value_of_zero_is_refused_with_its_run(self, record_of):
        record = record_of(two_level(2), factors=coded("ab"), outcome="y", values=[1, 2, 0, 4])
        with pytest.raises(FitError, match=r"run 3: 'y' reads 0 .* above zero"):
            outcome(record, "y", scale="log")

    def test_effects_on_log_are_ratios(self, record_of):
        table = pd.concat([two_level(2)] * 2, ignore_index=True)
        y = 10 * 2.0 ** table["a"] * np.exp(0.05 * noise(8))
        fit = outcome(
            record_of(table, factors=coded("ab"), outcome="y", values=y), "y", scale="log"
        )
        effect = fit.effects[0]
        assert effect.is_ratio
        assert effect.value == pytest.approx(4, rel=0.1)
        assert effect.estimate.low < effect.value < effect.estimate.high
        found = fit.predict(fit.settings, confidence=0.95)
        assert (found.new_part_low > 0).all()
        assert any("medians" in note for note in fit.notes)

    def test_inverse_turns_the_interval_round(self, record_of):
        table = pd.concat([two_level(2)] * 2, ignore_index=True)
        y = 1 / (0.5 + 0.1 * table["a"] + 0.01 * noise(8))
        fit = outcome(
            record_of(table, factors=coded("ab"), outcome=Measured(name="y", unit="s"), values=y),
            "y",
            scale="inverse",
        )
        found = fit.predict(fit.settings, confidence=0.95)
        assert (found.new_part_low < found.mean_low).all()
        assert (found.mean_low < found.mean).all()
        assert (found.mean < found.mean_high).all()
        assert fit.effects[0].unit == "1/(s)"
        assert "inverse scale" in fit.effects[0].from_to

    @pytest.mark.parametrize("scale", ["as read", "log", "square root", "inverse"])
    def test_there_and_back(self, scale):
        values = np.array([0.2, 1.0, 7.5])
        np.testing.assert_allclose(off_scale(on_scale(values, scale), scale), values)

    def test_beyond_the_end_of_a_scale(self):
        low = np.array([-1.0])
        assert off_scale(low, "square root")[0] == 0
        assert np.isinf(off_scale(low, "inverse")[0])


class TestEffects:
    """Effects in words and numbers."""

    def test_category_of_two_levels_goes_from_first_to_second(self, record_of):
        table = pd.DataFrame({"tip": ["flat", "flat", "cone", "cone"] * 2, "a": [-1.0, 1] * 4})
        y = np.where(table["tip"] == "cone", 5.0, 2.0) + 0.01 * noise(8)
        fit = outcome(record_of(table, factors=["tip", *coded("a")], outcome="y", values=y), "y")
        effect = fit.effects[0]
        assert (effect.name, effect.from_to) == ("tip", "from flat to cone")
        assert effect.value == pytest.approx(3, abs=0.05)
        assert fit.effects[1].from_to == "from -1 to 1 mm"

    def test_category_of_three_levels_against_the_mean_of_all(self, record_of):
        table = pd.DataFrame({"tip": ["x", "y", "z"] * 3})
        y = table["tip"].map({"x": 1.0, "y": 2.0, "z": 6.0}) + 0.001 * noise(9)
        fit = outcome(record_of(table, factors=["tip"], outcome="r", values=y), "r")
        assert [one.name for one in fit.effects] == ["tip [x]", "tip [y]", "tip [z]"]
        np.testing.assert_allclose([one.value for one in fit.effects], [-2, -1, 3], atol=0.01)

    def test_product_is_half_the_difference_of_differences(self, record_of):
        table = pd.concat([two_level(2)] * 2, ignore_index=True)
        y = pd.Series([1.0, 2.0, 4.0, 9.0] * 2)
        fit = outcome(
            record_of(table, factors=coded("ab"), outcome="y", values=y + 0.001 * noise(8)),
            "y",
            terms="a * b",
        )
        assert fit.effects[2].value == pytest.approx(((9 - 2) - (4 - 1) - 0) / 2, abs=0.01)

    def test_square_is_the_rise_from_the_middle(self, record_of):
        table = pd.DataFrame({"a": [-1.0, 0, 1] * 2})
        y = pd.Series([4.0, 1.0, 4.0] * 2) + 0.001 * noise(6)
        fit = outcome(
            record_of(table, factors=coded("a"), outcome="y", values=y), "y", terms="second-order"
        )
        assert fit.effects[1].value == pytest.approx(3, abs=0.01)
        assert fit.effects[1].from_to == "from the middle (0 mm) to either end"


class TestModel:
    """Which model is fitted."""

    def test_model_of_the_trial_is_the_default(self, record_of):
        record = record_of(
            two_level(2), factors=coded("ab"), outcome="y", values=[1, 2, 3, 5], model="a"
        )
        assert outcome(record, "y").column_names == ("mean", "a")

    def test_covariates_stand_only_where_named(self, record_of):
        table = pd.concat([two_level(1)] * 3, ignore_index=True)
        table["humidity"] = [41.0, 43, 46, 42, 50, 47]
        room = Continuous(
            name="humidity", low=40, high=50, unit="%", setting_sd=None, role=Role.OBSERVED
        )
        record = record_of(table, factors=[*coded("a"), room], outcome="y", values=noise(6))
        assert outcome(record, "y").column_names == ("mean", "a")
        named = outcome(record, "y", terms="a, humidity")
        assert named.column_names == ("mean", "a", "humidity")
        # A covariate outside the model does not part repeats.
        assert outcome(record, "y", terms="a").lack_of_fit.reason.startswith("the model has")

    def test_sequential_squares_add_up(self, record_of):
        table = pd.concat([two_level(2)] * 2, ignore_index=True).drop(index=[0, 3])
        y = noise(6)
        record = record_of(
            table.reset_index(drop=True), factors=coded("ab"), outcome="y", values=y
        )
        fit = outcome(record, "y", terms="a * b")
        total = float(((y - y.mean()) ** 2).sum())
        model = total - fit.residual_variance * fit.error_df
        found = sequential_tests(fit)
        assert sum(one.sum_of_squares for one in found) == pytest.approx(model)
        # The last term is adjusted for all others either way.
        assert found[-1].sum_of_squares == pytest.approx(fit.tests[-1].sum_of_squares)

    def test_what_passes_for_a_main_effect_is_said(self, record_of):
        table = two_level(2)
        table["c"] = table["a"] * table["b"]
        table = pd.concat([table] * 2, ignore_index=True)
        fit = outcome(record_of(table, factors=coded("abc"), outcome="y", values=noise(8)), "y")
        (note,) = [one for one in fit.notes if "pass for main effects" in one]
        assert re.search(r"a holds \+ \(b × c\)", note)
        assert any("runs straight between them was not checked" in one for one in fit.notes)

    def test_level_that_was_not_run_is_outside(self, record_of):
        table = pd.DataFrame({"tip": ["x", "y"] * 3, "a": [-1.0, -1, 1, 1, 0, 0]})
        tip = Categorical(name="tip", levels=("x", "y", "z"))
        record = record_of(table, factors=[tip, *coded("a")], outcome="r", values=noise(6))
        fit = outcome(record, "r")
        points = settings(fit.settings.factors, [{"tip": t, "a": 0} for t in "xyz"])
        assert fit.predict(points, confidence=0.95).inside.tolist() == [True, True, False]
