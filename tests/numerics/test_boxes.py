"""The largest box against every box there is."""

from itertools import combinations_with_replacement, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.numerics.boxes import counts, largest_box, packed


def every_box(failed, usable, budget, widths):
    """Return the size of the largest box by looking at all of them."""
    best = 0.0
    sides = [list(combinations_with_replacement(range(g), 2)) for g in usable.shape]
    for box in product(*sides):
        inside = tuple(slice(a, b + 1) for a, b in box)
        if not usable[inside].all():
            continue
        if failed[(slice(None), *inside)].any(axis=tuple(range(1, failed.ndim))).sum() > budget:
            continue
        best = max(best, np.prod([w[s].sum() for w, s in zip(widths, inside, strict=True)]))
    return best


@pytest.mark.property
@settings(max_examples=40, deadline=None)
@given(
    shape=st.lists(st.integers(1, 5), min_size=1, max_size=4).filter(lambda s: np.prod(s) <= 200),
    seed=st.integers(0, 10_000),
    n_draws=st.sampled_from([20, 64, 130]),
    rate=st.sampled_from([0.002, 0.02, 0.1]),
)
def test_largest_box_is_the_largest_of_all(shape, seed, n_draws, rate):
    rng = np.random.default_rng(seed)
    shape = tuple(shape)
    failed = rng.random((n_draws, *shape)) < rate * (
        1 + 5 * (rng.random((n_draws, *[1] * len(shape))) < 0.1)
    )
    usable = rng.random(shape) < 0.95
    widths = [rng.uniform(0.5, 2, g) for g in shape]
    budget = n_draws // 10
    bits = packed(failed.reshape(n_draws, -1)).reshape(*shape, -1)
    box = largest_box(bits, usable, budget=budget, widths=widths)
    expected = every_box(failed, usable, budget, widths)
    if box is None:
        assert expected == 0
        return
    inside = tuple(slice(a, b + 1) for a, b in zip(box.first, box.last, strict=True))
    held = failed[(slice(None), *inside)].any(axis=tuple(range(1, failed.ndim))).sum()
    assert held <= budget
    assert usable[inside].all()
    assert box.size == pytest.approx(expected)


def test_counts_of_packed_flags_are_their_sums():
    flags = np.random.default_rng(1).random((100, 7)) < 0.3
    np.testing.assert_array_equal(counts(packed(flags)), flags.sum(axis=0))


def test_of_equal_boxes_the_one_with_fewest_failing_draws_is_taken():
    failed = np.zeros((64, 5), dtype=bool)
    failed[:20, 2] = True  # splits the line into two equal halves
    failed[0, 0] = True
    box = largest_box(packed(failed), np.ones(5, dtype=bool), budget=5, widths=[np.ones(5)])
    assert (box.first, box.last) == ((3,), (4,))


def test_no_usable_point_gives_no_box():
    bits = packed(np.zeros((10, 4), dtype=bool))
    assert largest_box(bits, np.zeros(4, dtype=bool), budget=1, widths=[np.ones(4)]) is None
