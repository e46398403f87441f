"""Worked examples of textbooks and papers: every expected value within its tolerance."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from workbench.define.factors import Categorical, Continuous
from workbench.define.outcomes import Measured
from workbench.files.evidence import published
from workbench.fit import outcome


class TestFiltration:
    """Montgomery, Design and Analysis of Experiments, example 6.2."""

    CHECK = published("filtration-2x4-lenth")

    @pytest.fixture
    def fitted(self, record_of, printed):
        record = record_of(self.CHECK.tables["data"], factors=printed.coded("ABCD"), outcome="y")
        return lambda terms: outcome(record, "y", terms=terms)

    @pytest.mark.published(source="Montgomery, Design and Analysis of Experiments, example 6.2")
    def test_all_fifteen_effects(self, fitted, printed):
        expected, fit = self.CHECK.expected, fitted("A * B * C * D")
        effects = {one.name.replace(" × ", ""): one.value for one in fit.effects}
        printed.meets(expected["effects"], effects)
        squares = {str(one.term).replace(" × ", ""): one.sum_of_squares for one in fit.tests}
        squares["total"] = sum(squares.values())
        printed.meets(expected["sum_of_squares"], squares)
        printed.meets(expected["sum_of_squares_printed"], squares)
        printed.meets(expected["mean"], {"grand_mean": fit.estimates[0]})

    @pytest.mark.published(source="Montgomery, Design and Analysis of Experiments, example 6.2")
    def test_pseudo_error(self, fitted, printed):
        fit = fitted("A * B * C * D")
        pseudo, expected = fit.pseudo_error, self.CHECK.expected["pseudo_standard_error"]
        found = {
            "pse": pseudo.value,
            "margin_of_error_95": pseudo.margin_by_t,
            "simultaneous_margin_95": pseudo.simultaneous_margin_by_t,
        }
        printed.meets({name: expected[name] for name in found}, found)
        # At the simultaneous margin A, D, AC and AD stand out, C at the individual one only.
        sizes = {one.name: abs(one.value) for one in fit.effects}
        beyond = {name for name, size in sizes.items() if size > pseudo.simultaneous_margin}
        assert beyond == {"A", "D", "A × C", "A × D"}
        assert set(pseudo.standing_out) == beyond | {"C"}

    @pytest.mark.published(source="Montgomery, Design and Analysis of Experiments, example 6.2")
    def test_projected_and_reduced(self, fitted, printed):
        projected = fitted("A * C * D")
        tests = {str(one.term): one for one in projected.tests}
        answers = printed.model_answers(projected) | {"F_A": tests["A"].statistic}
        printed.meets(self.CHECK.expected["projected_fit"], answers)
        reduced = fitted("A, C, D, A * C, A * D")
        printed.meets_columns(self.CHECK.expected, reduced, "reduced")
        printed.meets(self.CHECK.expected["reduced_fit"], printed.model_answers(reduced))


@pytest.mark.published(source="Box, Hunter and Hunter, Statistics for Experimenters (from memory)")
def test_pilot_plant(record_of, printed):
    check = published("pilot-plant-2x3")
    fit = outcome(
        record_of(check.tables["data"], factors=printed.coded("TCK"), outcome="y"),
        "y",
        terms="T * C * K",
    )
    effects = {one.name.replace(" × ", ""): one.value for one in fit.effects}
    printed.meets(check.expected["effects"], effects | {"mean": fit.estimates[0]})
    # Two runs behind each average, pooled variance 8: se² of an effect is 4 · 8 / 16.
    weight = 4 * fit.unscaled_covariance[1, 1] * 8 / 2
    printed.meets(check.expected["standard_error"], {"effect_from_variance_8": np.sqrt(weight)})


@pytest.mark.published(source="Montgomery, Design and Analysis of Experiments, chapter 6, 2^2")
def test_conversion(record_of, printed):
    check = published("replicated-2x2-conversion")
    table = check.tables["data"].copy()
    fit = outcome(record_of(table, factors=printed.coded("AB"), outcome="y"), "y", terms="A * B")
    tests = {str(one.term).replace(" × ", ":"): one for one in fit.tests}
    printed.meets(
        check.expected["effects"],
        {one.name.replace(" × ", ":"): one.value for one in fit.effects},
    )
    squares = {name: one.sum_of_squares for name, one in tests.items()}
    squares["error"] = fit.residual_variance * fit.error_df
    squares["total"] = sum(squares.values())
    printed.meets(check.expected["sum_of_squares"], squares)
    printed.meets(check.expected["F"], {name: one.statistic for name, one in tests.items()})
    printed.meets(check.expected["p"], {name: one.p for name, one in tests.items()})
    table["conc"], table["cat"] = 20 + 5 * table["A"], 1.5 + 0.5 * table["B"]
    natural = [
        Continuous(name="conc", low=15, high=25, unit="%", setting_sd=None),
        Continuous(name="cat", low=1, high=2, unit="lb", setting_sd=None),
    ]
    straight = outcome(record_of(table, factors=natural, outcome="y"), "y")
    found = {one.name: one.value for one in straight.natural_coefficients}
    printed.meets(
        check.expected["natural_units_coef"],
        {"Intercept": found["constant"], "conc": found["conc"], "cat": found["cat"]},
    )


class TestExtrusion:
    """Montgomery, Design and Analysis of Experiments, chapter 4 (from memory)."""

    CHECK = published("randomised-blocks-extrusion")
    SOURCE = "Montgomery, Design and Analysis of Experiments, chapter 4"

    @pytest.fixture
    def record(self, record_of):
        table = self.CHECK.tables["data"].astype({"pressure": str})
        return record_of(table, factors=["pressure"], outcome="y", blocks="batch")

    @pytest.mark.published(source=SOURCE)
    def test_with_blocks(self, record, printed):
        fit = outcome(record, "y", structure="independent")
        tests = {str(one.term): one for one in fit.tests}
        squares = {
            "pressure": tests["pressure"].sum_of_squares,
            "batch": tests["block"].sum_of_squares,
            "error": fit.residual_variance * fit.error_df,
        }
        squares["total"] = sum(squares.values())
        printed.meets(self.CHECK.expected["sum_of_squares"], squares)
        printed.meets(
            self.CHECK.expected["test"],
            {
                "F": tests["pressure"].statistic,
                "p": tests["pressure"].p,
                "ms_error": fit.residual_variance,
            },
        )
        means = fit.predict(fit.settings, confidence=0.95).mean
        levels = [f"p{row['pressure']}" for row in fit.settings.as_dicts()]
        printed.meets(self.CHECK.expected["means"], dict(zip(levels, means, strict=True)))

    @pytest.mark.published(source=SOURCE)
    def test_without_blocks(self, record_of, printed):
        table = self.CHECK.tables["data"].astype({"pressure": str})
        fit = outcome(record_of(table, factors=["pressure"], outcome="y"), "y")
        printed.meets(
            self.CHECK.expected["without_blocks"],
            {"F": fit.tests[0].statistic, "ms_error": fit.residual_variance},
        )


class TestPlasmaEtch:
    """Montgomery, Design and Analysis of Experiments, chapter 3 (from memory)."""

    CHECK = published("one-way-plasma-etch")
    SOURCE = "Montgomery, Design and Analysis of Experiments, chapter 3"

    @pytest.mark.published(source=SOURCE)
    def test_power_as_a_label(self, record_of, printed):
        table = self.CHECK.tables["data"].astype({"power": str})
        fit = outcome(record_of(table, factors=["power"], outcome="etch_rate"), "etch_rate")
        (one,) = fit.tests
        error = fit.residual_variance * fit.error_df
        printed.meets(
            self.CHECK.expected["sum_of_squares"],
            {
                "treatments": one.sum_of_squares,
                "error": error,
                "total": one.sum_of_squares + error,
            },
        )
        printed.meets(
            self.CHECK.expected["test"],
            {
                "F": one.statistic,
                "ms_error": fit.residual_variance,
                "residual_sd": fit.residual_variance**0.5,
            },
        )
        levels = [f"p{row['power']}" for row in fit.settings.as_dicts()]
        means = fit.predict(fit.settings, confidence=0.95).mean
        printed.meets(self.CHECK.expected["means"], dict(zip(levels, means, strict=True)))
        least = stats.t.ppf(0.975, fit.error_df) * np.sqrt(2 * fit.residual_variance / 5)
        wanted = self.CHECK.expected["pairwise"]["least_difference_95"]
        assert abs(least - wanted.value) <= wanted.tol

    @pytest.mark.published(source=SOURCE)
    @pytest.mark.parametrize(
        ("group", "terms"), [("straight_line", "power"), ("quadratic", "power^2")]
    )
    def test_power_as_a_number(self, record_of, group, terms, printed):
        record = record_of(self.CHECK.tables["data"], factors=["power"], outcome="etch_rate")
        fit = outcome(record, "etch_rate", terms=terms)
        found = [one.value for one in fit.natural_coefficients]
        printed.meets(
            self.CHECK.expected[group], dict(zip(self.CHECK.expected[group], found, strict=True))
        )


class TestSurvivalTimes:
    """Box and Cox 1964, JRSS B 26, 211-252, first example: 3 x 4 with four repeats."""

    CHECK = published("box-cox-poisons")

    @pytest.fixture
    def record(self, record_of):
        return record_of(
            self.CHECK.tables["data"],
            factors=["poison", "treatment"],
            outcome=Measured(name="time", unit="10 h"),
        )

    @pytest.mark.published(source="Box and Cox 1964, JRSS B 26, 211-252")
    @pytest.mark.parametrize(
        ("prefix", "scale"), [("original", "as read"), ("reciprocal", "inverse")]
    )
    def test_both_tables(self, record, prefix, scale, printed):
        fit = outcome(record, "time", terms="interactions", scale=scale)
        keys = ("poison", "treatment", "interaction")
        squares = dict(zip(keys, (one.sum_of_squares for one in fit.tests), strict=True))
        squares["error"] = fit.residual_variance * fit.error_df
        printed.meets(self.CHECK.expected[f"{prefix}_ss"], squares)
        statistics = dict(zip(keys, (one.statistic for one in fit.tests), strict=True))
        printed.meets(self.CHECK.expected[f"{prefix}_F"], statistics)

    @pytest.mark.published(source="Box and Cox 1964, JRSS B 26, 211-252")
    def test_power_family(self, record):
        family = outcome(record, "time").power_family
        expected = self.CHECK.expected["profile_additive"]
        for key, value in (
            ("lambda_hat", family.best),
            ("ci95_low", family.low),
            ("ci95_high", family.high),
        ):
            assert abs(value - expected[key].value) <= expected[key].tol


@pytest.mark.published(source="NIST StRD, analysis of variance")
@pytest.mark.parametrize("name", ["SiRstv", "AtmWtAg", "SmLs01", "SmLs04", "SmLs07"])
def test_certified_one_way_through_the_whole_fit(record_of, name, printed):
    check = published("nist-strd-anova")
    data = check.tables["data"]
    stored = data[data["set"] == name].reset_index(drop=True)
    labels = [f"g{one}" for one in stored["treatment"]]
    table = pd.DataFrame({"group": labels, "y": stored["response"]})
    levels = tuple(dict.fromkeys(labels))
    record = record_of(table, factors=[Categorical(name="group", levels=levels)], outcome="y")
    fit = outcome(record, "y")
    (one,) = fit.tests
    printed.meets(
        check.expected[name],
        {
            "df_between": one.df,
            "df_within": fit.error_df,
            "ss_between": one.sum_of_squares,
            "ms_between": one.mean_square,
            "F": one.statistic,
            "ss_within": fit.residual_variance * fit.error_df,
            "ms_within": fit.residual_variance,
            "r_squared": fit.r_squared,
            "residual_sd": fit.residual_variance**0.5,
        },
    )
