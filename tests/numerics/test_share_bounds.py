"""Bounds over groups of points: never below a share in the group; groups hold every point once."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.numerics.link_shares import averaged, odds_share
from workbench.numerics.posterior import Process, Spots, outside, tails
from workbench.numerics.share_bounds import curve_bound, near_groups, normal_bound


def made(seed, *, scattering):
    """Return 60 processes of a bent surface over two axes, 300 points in groups, their starts."""
    rng = np.random.default_rng(seed)
    x = rng.uniform(-1, 1, (300, 2))
    groups = near_groups(x, 20)
    x = x[groups.order]
    one = np.ones(len(x))
    mean = np.column_stack([one, x, x[:, 0] * x[:, 1], x**2])
    slope = 0.1 * np.column_stack([one, x[:, 1], 2 * x[:, 0]])
    process = Process(
        coefficients=rng.normal(size=(60, 6)).astype(np.float32),
        part_variance=rng.uniform(0.05, 0.3, 60).astype(np.float32),
    )
    spots = Spots(
        mean=mean.astype(np.float32),
        slopes=(slope.astype(np.float32),) if scattering else (),
        slope_columns=(np.array([1, 3, 4]),) if scattering else (),
        bend=np.full((60, 1), 0.001 * scattering, dtype=np.float32),
        kind=np.zeros(len(x), dtype=np.intp),
    )
    return process, spots, groups


def failing(logits, draws):
    del draws
    return odds_share(-logits)


def passing(logits, draws):
    del draws
    return odds_share(logits.copy())


@pytest.mark.property
@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 1000), scattering=st.booleans())
def test_no_share_in_a_group_exceeds_its_bound(seed, scattering):
    process, spots, groups = made(seed, scattering=scattering)
    shares = outside(process, spots, low=-1.5, high=2.0)
    bound = normal_bound(process, spots, groups.starts, low=-1.5, high=2.0)
    curved = averaged(process, spots, failing) + averaged(process, spots, passing)
    above = curve_bound(process, spots, groups.starts, curves=(failing, passing))
    for g, places in enumerate(groups.slices()):
        assert (shares[:, places].max(axis=1) <= bound[:, g] + 1e-6).all()
        assert (curved[:, places].max(axis=1) <= above[:, g] + 1e-6).all()


@pytest.mark.property
@settings(max_examples=20, deadline=None)
@given(n=st.integers(1, 400), size=st.integers(1, 50), seed=st.integers(0, 99))
def test_groups_hold_every_point_once_and_none_too_many(n, size, seed):
    points = np.random.default_rng(seed).integers(0, 4, (n, 3)).astype(float)
    groups = near_groups(points, size)
    assert sorted(groups.order.tolist()) == list(range(n))
    slices = groups.slices()
    assert max(one.stop - one.start for one in slices) <= size
    assert sum(one.stop - one.start for one in slices) == n


def test_some_draws_at_some_points_are_those_of_all():
    process, spots, _ = made(3, scattering=True)
    whole = tails(process, spots, low=-1.5, high=2.0)
    draws, points = np.array([3, 5, 40]), slice(10, 30)
    part = tails(process.some(draws), spots.some(draws, points), low=-1.5, high=2.0)
    np.testing.assert_allclose(part.below, whole.below[draws][:, points], atol=1e-6)
    np.testing.assert_allclose(part.above, whole.above[draws][:, points], atol=1e-6)
    both = outside(process, spots, low=-1.5, high=2.0)
    np.testing.assert_allclose(both, whole.below + whole.above, atol=1e-6)
