"""What runs show of a left-out curve, held against the normal linear model itself."""

import numpy as np
import pytest

from workbench.numerics.form_posterior import form_seen, seen_form_draws

N_DRAWS = 20_000


def layout(seed):
    """Return fitted columns, left-out ones, and an outcome with some of the latter in it."""
    rng = np.random.default_rng(seed)
    fitted = np.column_stack([np.ones(12), rng.normal(size=(12, 3))])
    left_out = rng.normal(size=(12, 2))
    y = fitted @ [1.0, 2.0, -1.0, 0.5] + left_out @ [0.8, 0.0] + 0.5 * rng.normal(size=12)
    return fitted, left_out, y


def beside(fitted, left_out):
    return left_out - fitted @ np.linalg.lstsq(fitted, left_out)[0]


@pytest.mark.published(source="Box and Tiao 1973, section 2.7: the normal linear model")
@pytest.mark.parametrize("size", [0.1, 0.7, 20.0])
def test_draws_are_those_of_the_whole_model(size):
    """Flat in β, δ ~ N(0, s²I), σ known: δ and β from the joint normal equations of both."""
    fitted, left_out, y = layout(1)
    whole = np.hstack([fitted, left_out])
    precision = whole.T @ whole / 0.25
    precision[4:, 4:] += np.eye(2) / size**2
    covariance = np.linalg.inv(precision)
    mean = covariance @ whole.T @ y / 0.25
    # |N(0, 1)| is one factor of s: only draws of which it is near one are looked at.
    rng, again = np.random.default_rng(3), np.random.default_rng(3)
    drawn = seen_form_draws(
        rng,
        np.full((N_DRAWS * 10, 1), size),
        kappa=1.0,
        variances=np.full(N_DRAWS * 10, 0.25),
        seen=form_seen(beside(fitted, left_out), y),
    )
    near = np.abs(np.abs(again.standard_normal(N_DRAWS * 10)) - 1) < 0.02
    found = drawn[near]
    assert near.sum() > 1500
    error = np.sqrt(np.diag(covariance)[4:] / near.sum())
    np.testing.assert_allclose(found.mean(axis=0), mean[4:], atol=5 * error.max())
    np.testing.assert_allclose(np.cov(found.T), covariance[4:, 4:], atol=0.1 * covariance.max())


def test_what_runs_cannot_see_stays_as_it_was_beforehand():
    """A left-out column that the fitted ones take over whole: δ keeps its prior."""
    fitted, _, y = layout(2)
    left_out = fitted @ [[0.0], [1.0], [2.0], [0.0]]
    slopes = np.ones((N_DRAWS, 2))
    drawn = seen_form_draws(
        np.random.default_rng(4),
        slopes,
        kappa=0.3,
        variances=np.ones(N_DRAWS),
        seen=form_seen(beside(fitted, left_out), y),
    )
    rng = np.random.default_rng(4)
    scale = np.abs(rng.standard_normal(N_DRAWS))
    expected = 0.3 * scale * np.abs(rng.standard_normal((N_DRAWS, 1))[:, 0])
    np.testing.assert_allclose(np.abs(drawn[:, 0]), expected, rtol=1e-6)


@pytest.mark.parametrize("variance", [0.0, 1.0])
def test_nothing_is_left_out_where_nothing_is_assumed(variance):
    fitted, left_out, y = layout(3)
    drawn = seen_form_draws(
        np.random.default_rng(5),
        np.ones((100, 2)),
        kappa=0.0,
        variances=np.full(100, variance),
        seen=form_seen(beside(fitted, left_out), y),
    )
    assert (drawn == 0).all()


def test_runs_met_exactly_give_the_curve_itself():
    fitted, left_out, _ = layout(4)
    y = fitted @ [1.0, 2.0, 3.0, 4.0] + left_out @ [0.5, -0.25]
    drawn = seen_form_draws(
        np.random.default_rng(6),
        np.ones((100, 2)),
        kappa=0.3,
        variances=np.zeros(100),
        seen=form_seen(beside(fitted, left_out), y),
    )
    np.testing.assert_allclose(np.median(drawn, axis=0), [0.5, -0.25], atol=1e-4)


def test_no_left_out_column():
    fitted, _, y = layout(5)
    seen = form_seen(np.empty((12, 0)), y)
    drawn = seen_form_draws(
        np.random.default_rng(7), np.ones((10, 1)), kappa=0.3, variances=np.ones(10), seen=seen
    )
    assert drawn.shape == (10, 0)
    assert fitted.shape == (12, 4)
