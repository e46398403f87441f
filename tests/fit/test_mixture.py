"""Blending models: published numbers, and what a mixture cannot say."""

import numpy as np
import pandas as pd
import pytest

from workbench import decide
from workbench.define.factors import Component, Continuous
from workbench.define.outcomes import Measured, at_least
from workbench.define.settings import settings
from workbench.define.trial import Trial
from workbench.errors import DefinitionError, FitError, PlanError, Unavailable
from workbench.files.evidence import published
from workbench.fit import outcome
from workbench.plan import candidates, full

CHECK = published("hb-mixture-yarn")
X = tuple(Component(name=name, low=0, high=1) for name in ("x1", "x2", "x3"))


def ours(name):
    return name.replace(":", " × ")


@pytest.fixture
def yarn(record_of):
    return outcome(
        record_of(CHECK.tables["data"], factors=X, outcome="elongation"),
        "elongation",
        terms="second-order",
    )


@pytest.mark.published(source="NIST/SEMATECH e-Handbook 5.5.4.2; Cornell (1990)")
class TestYarn:
    def test_coefficients(self, yarn):
        found = {one.name: one for one in yarn.coefficients}
        for group, field in (("coef", "value"), ("se", "std_error")):
            for name, wanted in CHECK.expected[group].items():
                one = found[ours(name)]
                value = one.value if field == "value" else one.estimate.std_error
                assert value == pytest.approx(wanted.value, abs=wanted.tol), name

    def test_statistics(self, yarn):
        found = {one.name: one for one in yarn.coefficients}
        for group, field in (("t", "statistic"), ("p", "p")):
            for name, wanted in CHECK.expected[group].items():
                assert getattr(found[ours(name)], field) == pytest.approx(
                    wanted.value, abs=wanted.tol
                )

    def test_shares_explained_about_the_mean(self, yarn):
        wanted = CHECK.expected["fit"]
        for name, value in (
            ("r_squared_about_mean", yarn.r_squared),
            ("r_squared_adj_about_mean", yarn.adjusted_r_squared),
            ("residual_sd", yarn.residual_sd),
        ):
            assert value == pytest.approx(wanted[name].value, abs=wanted[name].tol)

    def test_all_blending_terms_about_the_mean(self, yarn):
        wanted = CHECK.expected["anova_about_mean"]
        whole = yarn.tests[0]
        assert whole.df == wanted["df_model"].value
        assert whole.statistic == pytest.approx(wanted["F"].value, abs=wanted["F"].tol)
        assert whole.sum_of_squares == pytest.approx(wanted["ss_model"].value, abs=1e-6)

    def test_best_blend_of_two(self, yarn):
        best = CHECK.expected["optimum"]
        rows = [{"x1": best["x1"].value, "x2": 0.0, "x3": best["x3"].value}]
        found = yarn.predict(settings(X, rows), confidence=0.95)
        assert found.mean[0] == pytest.approx(best["predicted"].value, abs=1e-6)


def test_no_component_has_an_effect_of_its_own(yarn):
    assert {one.name for one in yarn.effects} == {"x1 × x2", "x1 × x3", "x2 × x3"}
    assert not {"x1", "x2", "x3"} & {str(one.term) for one in yarn.tests}
    assert "none of them has an effect of its own" in " ".join(yarn.notes)


def test_shares_that_do_not_add_up_are_refused(record_of, yarn):
    table = CHECK.tables["data"].copy()
    table.loc[0, "x1"] = 0.4
    with pytest.raises(FitError, match=r"add up to 1\.4"):
        outcome(record_of(table, factors=X, outcome="elongation"), "elongation")
    with pytest.raises(FitError, match=r"add up to 0\.9"):
        yarn.predict(settings(X, [{"x1": 0.3, "x2": 0.3, "x3": 0.3}]), confidence=0.95)


def test_chance_of_a_blend(record_of):
    wanted = Measured(name="elongation", unit="", requirement=at_least(12))
    fit = outcome(
        record_of(CHECK.tables["data"], factors=X, outcome=wanted),
        "elongation",
        terms="second-order",
    )
    blends = settings(X, [{"x1": 0.3, "x2": 0.0, "x3": 0.7}, {"x1": 0.0, "x2": 1.0, "x3": 0.0}])
    share = fit.share_draws(blends, n_draws=4000, seed=2, model_form=0.3).share.mean(axis=0)
    assert share[0] > 0.99
    assert share[1] < 0.1
    decision = decide.window([fit], share=0.9, confidence=0.9, seed=1)
    assert "shares of a mixture" in decision.best.reason


def test_a_process_setting_with_every_component(record_of):
    rng = np.random.default_rng(4)
    blends = CHECK.tables["data"][["x1", "x2", "x3"]]
    table = pd.concat([blends, blends], ignore_index=True)
    table["heat"] = np.repeat([-1.0, 1.0], len(blends))
    table["y"] = (
        table[["x1", "x2", "x3"]] @ [10.0, 20.0, 30.0]
        + 3 * table["x1"] * table["heat"]
        + 0.01 * rng.standard_normal(len(table))
    )
    factors = (*X, Continuous(name="heat", low=-1, high=1, unit="", setting_sd=0))
    record = record_of(table, factors=factors, outcome="y")
    fit = outcome(record, "y", terms="x1, x2, x3, x1*heat, x2*heat, x3*heat")
    found = {one.name: one.value for one in fit.coefficients}
    assert found["x1 × heat"] == pytest.approx(3, abs=0.05)
    assert found["x2 × heat"] == pytest.approx(0, abs=0.05)
    assert isinstance(found["heat"], Unavailable)
    assert "x1 × heat and x2 × heat and x3 × heat" in found["heat"].reason


class TestDefinition:
    def test_no_squares(self, record_of):
        record = record_of(CHECK.tables["data"], factors=X, outcome="elongation")
        with pytest.raises(DefinitionError, match="share of a mixture"):
            outcome(record, "elongation", terms="x1, x2, x3, x1^2")

    def test_shares_are_parts_of_one_or_per_cent(self):
        with pytest.raises(DefinitionError, match="is in mm"):
            Component(name="a", low=0, high=1, unit="mm")
        with pytest.raises(DefinitionError, match="from 0 to 1"):
            Component(name="a", low=0, high=2)
        np.testing.assert_allclose(
            Component(name="a", low=0, high=50, unit="%").coded(np.array([25.0])), [0.25]
        )

    def test_one_component_is_no_mixture(self):
        with pytest.raises(DefinitionError, match="can add up to"):
            Trial(
                title="t",
                question="",
                factors=(Component(name="a", low=0.1, high=0.9),),
                outcomes=(Measured(name="y", unit=""),),
            )

    @pytest.mark.parametrize("make", [full, candidates])
    def test_planning_is_refused_in_words(self, make):
        trial = Trial(title="t", question="", factors=X, outcomes=(Measured(name="y", unit=""),))
        with pytest.raises(PlanError, match="shares of a mixture"):
            make(trial, seed=1)
