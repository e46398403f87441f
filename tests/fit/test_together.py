"""Several outcomes at once."""

import numpy as np
import pandas as pd
import pytest

from workbench.define.factors import Continuous
from workbench.define.outcomes import Measured, at_least, at_most
from workbench.errors import Unavailable
from workbench.fit import outcome, pulled_apart, shared_scatter, trade_offs
from workbench.fit.together import correlation_of

X = np.array([[a, b] for a in (-1.0, 1.0) for b in (-1.0, 1.0)] * 6)
FACTORS = tuple(
    Continuous(name=name, low=-1, high=1, unit="", setting_sd=0) for name in ("gap", "heat")
)


@pytest.fixture
def fits(record_of):
    rng = np.random.default_rng(3)
    common = rng.standard_normal(24)
    outcomes = {
        Measured(name="tear", unit="N", requirement=at_least(3)): (2, 0.9),
        Measured(name="leak", unit="µL/min", requirement=at_most(3)): (2, -0.9),
        Measured(name="look", unit=""): (0, 0.0),
    }
    found = []
    for one, (slope, shared) in outcomes.items():
        noise = shared * common + np.sqrt(1 - shared**2) * rng.standard_normal(24)
        table = pd.DataFrame({"gap": X[:, 0], "heat": X[:, 1], one.name: slope * X[:, 0] + noise})
        found.append(outcome(record_of(table, factors=FACTORS, outcome=one), one.name))
    return found


def test_what_helps_one_and_hurts_another(fits):
    found = trade_offs(fits)
    verdicts = {(one.effect, one.outcome): one.verdict for one in found}
    assert verdicts["gap", "tear"] == "helps"
    assert verdicts["gap", "leak"] == "hurts"
    assert verdicts["gap", "look"] == "no requirement"
    assert pulled_apart(found) == ("gap",)


def test_residuals_that_go_together(fits):
    tear_leak, tear_look, _ = shared_scatter(fits)
    assert tear_leak.n_runs == 24
    assert tear_leak.correlation.high < -0.4
    assert tear_look.correlation.low < 0 < tear_look.correlation.high


def test_limits_of_a_correlation_cover():
    # Fisher's z with 20 degrees of freedom, true correlation .6, model columns taken out.
    rng = np.random.default_rng(7)
    design = np.column_stack([np.ones(24), X])
    hat = design @ np.linalg.pinv(design)
    inside = 0
    for _ in range(1000):
        both = rng.multivariate_normal([0, 0], [[1, 0.6], [0.6, 1]], size=24)
        a, b = (both - hat @ both).T
        found = correlation_of(a, b, df=21)
        inside += found.low <= 0.6 <= found.high
    assert 0.93 <= inside / 1000 <= 0.97


def test_too_few_runs_for_a_correlation(record_of):
    table = pd.DataFrame({"gap": X[:4, 0], "y": [1.0, 2.0, 3.0, 5.0]})
    fit = outcome(record_of(table, factors=FACTORS[:1], outcome="y"), "y")
    (one,) = shared_scatter([fit, fit])
    assert isinstance(one.correlation, Unavailable)
