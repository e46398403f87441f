"""Shares follow the scatter where repeats show clearly that it moves with the settings."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from workbench.define.factors import Continuous
from workbench.define.outcomes import Measured, at_least
from workbench.define.settings import settings
from workbench.fit import outcome

FACTORS = tuple(
    Continuous(name=name, low=-1, high=1, unit="", setting_sd=0) for name in ("dose", "heat")
)
X = np.array([[a, b] for a in (-1.0, 0.0, 1.0) for b in (-1.0, 0.0, 1.0)] * 8)


def fitted(record_of, steepness, seed):
    rng = np.random.default_rng(seed)
    y = 20 + 2 * X[:, 0] + np.exp(steepness * X[:, 1]) * rng.standard_normal(len(X))
    table = pd.DataFrame({"dose": X[:, 0], "heat": X[:, 1], "y": y})
    wanted = Measured(name="y", unit="N", requirement=at_least(17))
    return outcome(record_of(table, factors=FACTORS, outcome=wanted), "y", terms="first-order")


def shares(fit):
    points = settings(FACTORS, [{"dose": 0.0, "heat": b} for b in (-1.0, 0.0, 1.0)])
    return fit.share_draws(points, n_draws=4000, seed=3, model_form=0).share


def test_the_share_falls_where_the_scatter_is_wide(record_of):
    fit = fitted(record_of, steepness=1.0, seed=5)
    truth = stats.norm.cdf(3 / np.exp([-1.0, 0.0, 1.0]))
    assert fit.scatter.is_clear
    assert "shares follow that" in " ".join(fit.notes)
    found = shares(fit)
    np.testing.assert_allclose(found.mean(axis=0), truth, atol=0.05)
    low, high = np.quantile(found, (0.025, 0.975), axis=0)
    assert ((low <= truth + 1e-3) & (truth - 1e-3 <= high)).all()


def test_even_scatter_is_left_even(record_of):
    fit = fitted(record_of, steepness=0.0, seed=4)
    assert fit.scatter is None
    ends = shares(fit).mean(axis=0)
    assert ends == pytest.approx([ends[1]] * 3, abs=0.01)


def test_the_average_over_the_runs_is_the_pooled_scatter(record_of):
    fit = fitted(record_of, steepness=1.0, seed=5)
    slopes, columns = fit.scatter.slopes, fit.scatter.columns(fit.settings)
    wider = np.exp(columns @ slopes)
    cells = pd.DataFrame(X).assign(y=fit.response).groupby([0, 1])["y"].var().to_numpy()
    at = np.exp(columns[:9] @ slopes) / wider.mean() * fit.residual_variance
    assert np.corrcoef(np.log(at), np.log(cells))[0, 1] > 0.8
    assert at.mean() == pytest.approx(fit.residual_variance)
