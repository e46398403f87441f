"""A short run of the long study of split plots, and layouts that nobody would plan."""

import runpy
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.numerics.kenward_roger import kenward_roger_each, kenward_roger_joint
from workbench.numerics.mixed_posterior import mixed_draws
from workbench.numerics.mixed_residuals import conditional_residuals
from workbench.numerics.mixed_rule import hangs_on, ruled_fit
from workbench.numerics.random_terms import random_terms
from workbench.numerics.satterthwaite import satterthwaite_each, satterthwaite_joint
from workbench.numerics.variance_profile import variance_limits_by_profile

STUDY = Path(__file__).parents[1] / "studies" / "strata_errors.py"


@pytest.mark.parametrize(("setups", "lost", "ratio"), [(6, True, 1.0), (8, True, 0.25)])
def test_error_rates_of_split_plots(setups, lost, ratio):
    study = runpy.run_path(str(STUDY))
    found = study["cell"](np.random.default_rng(3), (setups, lost, ratio), (300, 60))
    # Three standard errors about 5 % in 300 trials, and about 95 % in 60 intervals.
    for size in (found.size_whole, found.size_sub, found.size_product):
        assert 0.013 <= size <= 0.088
    for cover in (found.cover_setup, found.cover_run):
        assert cover >= 0.866
    assert found.fallback < 0.1


@pytest.mark.property
@settings(max_examples=50, deadline=None)
@given(
    seed=st.integers(0, 2**32 - 1),
    n=st.integers(2, 16),
    p=st.integers(1, 5),
    n_terms=st.integers(0, 3),
    reading=st.sampled_from(["normal", "rounded", "constant", "by level"]),
)
def test_no_layout_ends_in_an_exception_or_a_number_that_is_none(seed, n, p, n_terms, reading):
    rng = np.random.default_rng(seed)
    X = np.column_stack([np.ones(n), rng.choice([-1.0, 0, 1], size=(n, p - 1))])
    levels = [rng.integers(0, rng.integers(1, n + 1), size=n) for _ in range(n_terms)]
    y = {
        "normal": rng.normal(size=n),
        "rounded": np.round(rng.normal(size=n)),
        "constant": np.full(n, 3.3),
        "by level": (levels[0] if levels else X[:, -1]).astype(float),
    }[reading]
    terms = random_terms(X, levels)
    whole = np.eye(p)[terms.fixed.kept]
    found = ruled_fit(terms, y, [whole])
    assert np.isfinite(found.fit.variances).all()
    if found.solution is None:
        assert found.status != "converged" or found.reason
        return
    judged = kenward_roger_each if found.solution.is_sound else satterthwaite_each
    each = judged(found.solution, whole)
    for values in (each.estimates, each.std_errors, each.df, each.p):
        assert np.isfinite(values).all()
    joints = [satterthwaite_joint, *([kenward_roger_joint] if found.solution.is_sound else [])]
    for joint in joints:
        test = joint(found.solution, whole)
        assert np.isfinite([test.statistic, test.error_df, test.p]).all()
    assert hangs_on(terms, found.bounded, whole).dtype == bool
    spans = variance_limits_by_profile(found.bounded_terms, y, fit=found.bounded, confidence=0.9)
    assert all(0 <= one.low <= one.high for one in spans)
    residuals = conditional_residuals(found.bounded_terms, y, found.bounded)
    assert np.isfinite(residuals.standardised).all()
    drawn = mixed_draws(rng, found.bounded_terms, y, n_draws=20)
    assert np.isfinite(drawn.variances).all()
    assert np.isfinite(drawn.coefficients).all()
