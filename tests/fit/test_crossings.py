"""Crossings of two lines: where a setting turns the effect of another round."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from workbench.define.model_matrix import model_matrix
from workbench.define.settings import settings
from workbench.errors import Unavailable
from workbench.fit import crossings, outcome


def two_lines(slopes, *, noise=0.2, seed=3):
    rng = np.random.default_rng(seed)
    rows = [
        {"kind": kind, "heat": heat, "pull": 3 + level + slope * (heat - 80) / 20}
        for kind, level, slope in zip("ab", (0.5, 0.0), slopes, strict=True)
        for heat in (60.0, 80.0, 100.0)
        for _ in range(2)
    ]
    table = pd.DataFrame(rows)
    table["pull"] += noise * rng.standard_normal(len(table))
    return table


def fitted(record_of, table, model="kind * heat"):
    record = record_of(table, factors=["kind", "heat"], outcome="pull", model=model)
    return outcome(record, "pull")


def t_of_difference(fit, heat):
    """Return the difference of the two kinds at one heat over its standard error."""
    points = settings(
        fit.settings.factors, [{"kind": "a", "heat": heat}, {"kind": "b", "heat": heat}]
    )
    X = model_matrix(fit.terms, points).X
    contrast = X[0] - X[1]
    variance = fit.residual_variance * contrast @ fit.unscaled_covariance @ contrast
    return contrast @ fit.estimates / np.sqrt(variance)


def test_known_lines_cross_where_they_must(record_of):
    (found,) = crossings(fitted(record_of, two_lines((0.5, 1.5), noise=0.0)))
    assert found.value == pytest.approx(90.0)
    assert found.levels == ("a", "b")
    assert (found.along.name, found.between.name) == ("heat", "kind")
    assert found.inside


@pytest.mark.parametrize("seed", range(5))
def test_ends_of_the_interval_are_where_the_difference_is_just_not_told(record_of, seed):
    """Fieller's limits are the settings at which the t test of the difference is on the verge."""
    fit = fitted(record_of, two_lines((0.3, 2.0), seed=seed))
    (found,) = crossings(fit)
    verge = stats.t.ppf(0.975, fit.error_df)
    assert abs(t_of_difference(fit, found.value)) < 1e-9
    assert abs(t_of_difference(fit, found.interval.low)) == pytest.approx(verge)
    assert abs(t_of_difference(fit, found.interval.high)) == pytest.approx(verge)


def test_lines_not_told_apart_bound_nothing(record_of):
    (found,) = crossings(fitted(record_of, two_lines((1.0, 1.01), noise=0.5)))
    assert isinstance(found.interval, Unavailable)
    assert "not told apart" in found.interval.reason


def test_parallel_lines_and_bent_ones_have_none(record_of):
    table = two_lines((1.0, 1.0), noise=0.0)
    assert crossings(fitted(record_of, table, model="kind, heat")) == ()
    assert crossings(fitted(record_of, table, model="kind * heat")) == ()
    assert crossings(fitted(record_of, table, model="kind * heat^2")) == ()
