"""The same numbers as a general statistics library on unbalanced and rank-deficient data."""

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from statsmodels.tools.sm_exceptions import SingularMatrixWarning

from workbench.define.factors import Categorical, Continuous
from workbench.define.model_matrix import model_matrix
from workbench.define.settings import settings
from workbench.fit import outcome
from workbench.fit.matrix import fit_matrix
from workbench.fit.natural_units import natural_columns
from workbench.numerics.least_squares import press_residuals


def unbalanced(seed, n=26):
    rng = np.random.default_rng(seed)
    table = pd.DataFrame(
        {
            "gap": rng.uniform(2, 9, n),
            "speed": rng.choice([100.0, 150, 200], n),
            "tip": rng.choice(["flat", "cone", "ball"], n),
        }
    )
    table["y"] = 3 + 0.4 * table["gap"] - 0.01 * table["speed"] + rng.normal(size=n)
    return table


FACTORS = (
    Continuous(name="gap", low=2, high=9, unit="mm", setting_sd=None),
    Continuous(name="speed", low=100, high=200, unit="mm/s", setting_sd=None),
    Categorical(name="tip", levels=("flat", "cone", "ball")),
)
MODEL = "gap, speed, tip, gap * speed, gap * tip, gap^2"


def columns(fit):
    return fit_matrix(fit.terms, fit.settings, (fit.block, fit.block_labels))


@pytest.mark.reference(library="statsmodels")
@pytest.mark.parametrize("seed", range(4))
class TestUnbalanced:
    """Random, unbalanced, numeric and categorical factors together."""

    @pytest.fixture
    def fit(self, record_of, seed):
        return outcome(record_of(unbalanced(seed), factors=FACTORS, outcome="y", model=MODEL), "y")

    @pytest.fixture
    def peer(self, fit):
        return sm.OLS(fit.response, columns(fit).X).fit()

    def test_coefficients(self, fit, peer):
        for field, theirs in (
            ("value", peer.params),
            ("statistic", peer.tvalues),
            ("p", peer.pvalues),
        ):
            ours = [getattr(one, field) for one in fit.coefficients]
            np.testing.assert_allclose(ours, theirs, rtol=1e-7, atol=1e-10)
        ours = [(one.estimate.low, one.estimate.high) for one in fit.coefficients]
        np.testing.assert_allclose(ours, peer.conf_int(), rtol=1e-7)

    def test_tests_of_whole_terms(self, fit, peer):
        matrix = columns(fit)
        for one in fit.tests:
            rows = np.eye(matrix.X.shape[1])[matrix.places(one.term)]
            theirs = peer.f_test(rows)
            assert one.df == theirs.df_num
            assert one.statistic == pytest.approx(float(theirs.fvalue), rel=1e-7)
            assert one.p == pytest.approx(float(theirs.pvalue), rel=1e-6)

    def test_shares_and_diagnostics(self, fit, peer):
        assert fit.r_squared == pytest.approx(peer.rsquared)
        assert fit.adjusted_r_squared == pytest.approx(peer.rsquared_adj)
        influence = peer.get_influence()
        found = fit.diagnostics
        np.testing.assert_allclose(found.leverage, influence.hat_matrix_diag, rtol=1e-8)
        np.testing.assert_allclose(
            found.studentised, influence.resid_studentized_external, rtol=1e-6
        )
        np.testing.assert_allclose(found.press, influence.resid_press, rtol=1e-7)
        total = ((fit.response - fit.response.mean()) ** 2).sum()
        predicted = 1 - (influence.resid_press**2).sum() / total
        assert fit.predicted_r_squared == pytest.approx(predicted)

    def test_predictions(self, fit, peer):
        points = settings(
            FACTORS,
            [
                {"gap": 3.0, "speed": 120, "tip": "ball"},
                {"gap": 8.0, "speed": 180, "tip": "flat"},
            ],
        )
        found = fit.predict(points, confidence=0.9)
        theirs = peer.get_prediction(model_matrix(fit.terms, points).X).summary_frame(alpha=0.1)
        for ours, key in (
            (found.mean, "mean"),
            (found.mean_low, "mean_ci_lower"),
            (found.mean_high, "mean_ci_upper"),
            (found.new_part_low, "obs_ci_lower"),
            (found.new_part_high, "obs_ci_upper"),
        ):
            np.testing.assert_allclose(ours, theirs[key], rtol=1e-8)

    def test_natural_units(self, fit):
        table = pd.DataFrame(fit.settings.as_dicts())
        tips = np.column_stack(
            [
                (table["tip"] == level).astype(float) - (table["tip"] == "ball")
                for level in ("flat", "cone")
            ]
        )
        gap, speed = table["gap"].to_numpy(), table["speed"].to_numpy()
        by_name = {
            "constant": np.ones(len(table)),
            "gap": gap,
            "speed": speed,
            "tip [flat]": tips[:, 0],
            "tip [cone]": tips[:, 1],
            "gap × speed": gap * speed,
            "gap × tip [flat]": gap * tips[:, 0],
            "gap × tip [cone]": gap * tips[:, 1],
            "gap²": gap**2,
        }
        names = natural_columns(fit.terms, FACTORS).names
        peer = sm.OLS(fit.response, np.column_stack([by_name[n] for n in names])).fit()
        for ours, value, error in zip(
            fit.natural_coefficients, peer.params, peer.bse, strict=True
        ):
            assert ours.value == pytest.approx(value, rel=1e-6)
            assert ours.estimate.std_error == pytest.approx(error, rel=1e-6)


@pytest.mark.reference(library="statsmodels")
@pytest.mark.parametrize("seed", range(4))
def test_rank_deficient_data_fit_the_same_surface(record_of, seed):
    table = unbalanced(seed)
    table = table[~((table["tip"] == "cone") & (table["speed"] > 100))].reset_index(drop=True)
    terms = "gap, speed, tip, speed * tip, speed^2, gap * speed, speed^2 * tip"
    fit = outcome(record_of(table, factors=FACTORS, outcome="y"), "y", terms=terms)
    with pytest.warns(SingularMatrixWarning):
        peer = sm.OLS(fit.response, columns(fit).X).fit()
    assert not fit.estimable.all()
    assert fit.aliased
    np.testing.assert_allclose(fit.diagnostics.fitted, peer.fittedvalues, atol=1e-9)
    assert fit.error_df == peer.df_resid
    assert fit.residual_variance == pytest.approx(peer.mse_resid)


@pytest.mark.parametrize("seed", range(3))
def test_press_is_what_leaving_each_run_out_gives(record_of, seed):
    table = unbalanced(seed, n=18)
    terms = "gap, speed, tip"
    fit = outcome(record_of(table, factors=FACTORS, outcome="y"), "y", terms=terms)
    for i in range(len(table)):
        rest = table.drop(index=i).reset_index(drop=True)
        without = outcome(record_of(rest, factors=FACTORS, outcome="y"), "y", terms=terms)
        row = {name: table.loc[i, name] for name in ("gap", "speed", "tip")}
        found = without.predict(settings(FACTORS, [row]), confidence=0.95).mean[0]
        assert fit.diagnostics.press[i] == pytest.approx(table.loc[i, "y"] - found, abs=1e-9)
    again = press_residuals(fit.diagnostics.residuals, fit.diagnostics.leverage)
    np.testing.assert_allclose(again, fit.diagnostics.press)
