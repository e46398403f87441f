"""Analyses of classical plans: a Latin square, confounded blocks, a 12-run screening plan."""

import numpy as np
import pytest
from scipy import stats

from workbench.define import Categorical, Continuous, Measured, Trial, parse_terms
from workbench.files.evidence import published
from workbench.fit import outcome, sequential_tests
from workbench.plan import cannot_be_told_apart, mixing, screening
from workbench.plan.verify import verify_strength_two


@pytest.mark.published(source="Montgomery, Design and Analysis of Experiments, chapter 4 (memory)")
def test_propellant_latin_square(record_of, printed):
    check = published("latin-square-propellant")
    table = check.tables["data"].astype({"batch": str, "operator": str})
    names = ["batch", "operator", "formulation"]
    index = np.column_stack([table[n].astype("category").cat.codes for n in names])
    verify_strength_two(index.astype(np.int64))
    factors = [Categorical(name=n, levels=tuple(sorted(set(table[n])))) for n in names]
    record = record_of(table, factors=factors, outcome="y")
    fit = outcome(record, "y", terms="first-order")
    squares = {str(one.term): one.sum_of_squares for one in fit.tests}
    error = fit.residual_variance * fit.error_df
    found = squares | {"error": error, "total": sum(squares.values()) + error}
    printed.meets(check.expected["sum_of_squares"], found)
    # Orthogonal: what a term takes does not depend on the order of the terms.
    along = {str(one.term): one.sum_of_squares for one in sequential_tests(fit)}
    assert along == pytest.approx(squares)
    (test,) = [one for one in fit.tests if str(one.term) == "formulation"]
    answers = {"F": test.statistic, "p": test.p, "ms_error": fit.residual_variance}
    printed.meets(check.expected["test"], answers)


@pytest.mark.published(source="Venables and Ripley, Modern Applied Statistics with S, chapter 6")
def test_npk_in_blocks_of_four(record_of, printed):
    check = published("confounded-2x3-npk")
    table = check.tables["data"].rename(columns={"yield": "crop"})
    factors = [Continuous(name=n, low=0, high=1, unit="", setting_sd=0) for n in "NPK"]
    record = record_of(table, factors=factors, outcome="crop", blocks="block")
    # Six blocks would be taken as a sample of more; the printed table takes them as fixed.
    fit = outcome(record, "crop", terms="interactions", structure="independent")
    tests = {str(one.term).replace(" × ", ":"): one for one in fit.tests if one.term.order > 0}
    tests.pop("block", None)
    expected = check.expected
    printed.meets(expected["within_ss"], {k: one.sum_of_squares for k, one in tests.items()})
    printed.meets(expected["within_F"], {k: one.statistic for k, one in tests.items()})
    printed.meets(expected["within_p"], {k: one.p for k, one in tests.items()})
    residual = {"ss": fit.residual_variance * fit.error_df, "ms": fit.residual_variance}
    printed.meets(expected["within_residual"], residual | {"df": fit.error_df})
    effects = {one.name: one.value for one in fit.effects}
    printed.meets(expected["effects_high_minus_low"], {n: effects[n] for n in "NPK"})


@pytest.mark.published(source="Venables and Ripley, Modern Applied Statistics with S, chapter 6")
def test_npk_blocks_as_a_sample_leave_the_tests_within_them(record_of):
    check = published("confounded-2x3-npk")
    table = check.tables["data"].rename(columns={"yield": "crop"})
    factors = [Continuous(name=n, low=0, high=1, unit="", setting_sd=0) for n in "NPK"]
    record = record_of(table, factors=factors, outcome="crop", blocks="block")
    fit = outcome(record, "crop", terms="interactions")
    assert fit.scatter[0].level == "block"
    found = {str(one.term).replace(" × ", ":"): one for one in fit.tests}
    for name, wanted in check.expected["within_F"].items():
        assert found[name].statistic == pytest.approx(wanted.value, rel=1e-3, abs=1e-4)


@pytest.mark.published(source="Venables and Ripley, Modern Applied Statistics with S, chapter 6")
def test_npk_between_blocks(record_of, printed):
    check = published("confounded-2x3-npk")
    table = check.tables["data"].rename(columns={"yield": "crop"})
    factors = [Continuous(name=n, low=0, high=1, unit="", setting_sd=0) for n in "NPK"]
    record = record_of(table, factors=factors, outcome="crop", blocks="block")
    # The product of all three is one column with the blocks: no number of its own.
    fit = outcome(record, "crop", terms="N * P * K")
    assert any("N × P × K" in one.line and "block" in one.line for one in fit.aliased)
    # Judged against blocks, from the six block means.
    means = table.groupby("block")["crop"].mean()
    sign = table.groupby("block")[["N", "P", "K"]].first()
    product = np.where(sign.sum(axis=1) % 2 == 1, 1.0, -1.0)
    between = 4 * ((means - means.mean()) ** 2).sum()
    own = 4 * 6 * (product @ means / 6) ** 2
    rest = between - own
    statistic = own / (rest / 4)
    answers = {"ss_NPK": own, "ss_residual": rest, "F_NPK": statistic}
    answers["p_NPK"] = stats.f.sf(statistic, 1, 4)
    printed.meets(check.expected["block_stratum"], answers)


class TestCastFatigue:
    """Hunter, Hodi and Eagar 1982; Hamada and Wu 1992, Journal of Quality Technology 24."""

    CHECK = published("twelve-run-cast-fatigue")
    SOURCE = "Hamada and Wu 1992, Journal of Quality Technology 24, 130-137 (memory)"

    @pytest.fixture
    def fitted(self, record_of, printed):
        record = record_of(
            self.CHECK.tables["data"], factors=printed.coded("ABCDEFG"), outcome="y"
        )
        return lambda terms: outcome(record, "y", terms=terms)

    @pytest.mark.published(source=SOURCE)
    def test_main_effects(self, fitted, printed):
        effects = {one.name: one.value for one in fitted("first-order").effects}
        printed.meets(self.CHECK.expected["effects"], effects)

    @pytest.mark.published(source=SOURCE)
    def test_the_product_that_hides_among_main_effects(self, fitted, printed):
        expected = self.CHECK.expected
        printed.meets(expected["F_only"], {"r_squared": fitted("F").r_squared})
        printed.meets(expected["F_and_D"], {"r_squared": fitted("F, D").r_squared})
        # F and its product with G, without G itself, as the paper has it.
        factors = printed.coded("ABCDEFG")
        fit = fitted(parse_terms("F, F * G", factors, heredity=False))
        found = {one.name.replace(" × ", ":"): one.value for one in fit.coefficients}
        printed.meets(expected["F_and_FG_coef"], found | {"Intercept": found["mean"]})
        answers = {
            "r_squared": fit.r_squared,
            "r_squared_exact": fit.r_squared,
            "residual_sd": np.sqrt(fit.residual_variance),
        }
        printed.meets(expected["F_and_FG"], answers)

    @pytest.mark.published(source=SOURCE)
    def test_its_plan_leans_by_a_third(self, fitted, printed):
        settings = fitted("first-order").settings
        verify_strength_two(np.round(settings.coded()).astype(np.int64))
        fit = fitted("first-order")
        assert cannot_be_told_apart(fit.terms, settings) == ()
        pull = Measured(name="y", unit="")
        factors = tuple(printed.coded("ABCDEFG"))
        trial = Trial(title="t", question="q", factors=factors, outcomes=(pull,))
        ours = mixing(screening(trial, seed=1, runs=12))
        assert ours.largest_on_main_effects() == pytest.approx(1 / 3)
        assert ours.lines == ()
