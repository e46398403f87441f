"""The largest box against every box there is."""

from itertools import combinations_with_replacement, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.numerics.bit_grid import bit_grid
from workbench.numerics.box_bounds import bounded_box
from workbench.numerics.box_growth import grown_box
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


def smooth(k, lines, n_draws, seed):
    """Draws of two invented quadratic surfaces over a grid: where each fails, smoothly."""
    rng = np.random.default_rng(seed)
    x = np.stack(np.meshgrid(*[np.linspace(-1, 1, lines)] * k, indexing="ij"), -1).reshape(-1, k)
    columns = np.column_stack([np.ones(len(x)), x, x**2])
    failed = np.zeros((n_draws, len(x)), dtype=bool)
    for _ in range(2):
        middle = np.concatenate([[1.6], rng.normal(0, 0.6, 2 * k)])
        draws = middle + rng.normal(0, 0.2, (n_draws, middle.size))
        failed |= draws @ columns.T < 0
    return failed.reshape(n_draws, *[lines] * k)


def in_grid(failed, budget, weights=None):
    shape = failed.shape[1:]
    bits = packed(failed.reshape(failed.shape[0], -1)).reshape(*shape, -1)
    return bit_grid(
        bits,
        np.ones(shape, dtype=bool),
        budget=budget,
        widths=[np.ones(g) for g in shape],
        weights=np.ones(len(shape)) if weights is None else np.array(weights),
    )


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("k", [3, 4])
def test_growth_alone_comes_within_a_twentieth_of_the_largest(k, seed):
    failed = smooth(k, 7, 256, seed)
    grid = in_grid(failed, 12)
    if not grid.able.any():
        pytest.skip("no point holds in these draws")
    grown = grown_box(grid, starts=6, kicks=24)
    assert int(counts(grid.union(grown.first, grown.last))) <= 12
    best = bounded_box(grid, grown, most=10**9)
    assert best.is_proved
    assert grown.size >= 0.95 * best.size


def test_growth_comes_within_a_twentieth_on_random_bit_sets():
    ratios = []
    for seed in range(12):
        rng = np.random.default_rng(seed)
        failed = rng.random((128, 5, 5, 5)) < 0.002 * rng.random((128, 1, 1, 1)) * 4
        grid = in_grid(failed, 12)
        grown = grown_box(grid, starts=6, kicks=24)
        ratios.append(grown.size / bounded_box(grid, grown, most=10**9).size)
    assert np.mean(ratios) > 0.98
    assert min(ratios) >= 0.95


def test_five_axes_are_proved_and_a_search_cut_short_says_so():
    failed = smooth(5, 3, 128, 1)
    bits = packed(failed.reshape(128, -1)).reshape(*failed.shape[1:], -1)
    widths = [np.ones(3)] * 5
    box = largest_box(bits, np.ones(failed.shape[1:], dtype=bool), budget=6, widths=widths)
    assert box.is_proved
    assert box.size == every_box(failed, np.ones(failed.shape[1:], dtype=bool), 6, widths)
    grid = in_grid(failed, 6)
    start = grown_box(grid, starts=1, kicks=0)
    assert not bounded_box(grid, start, most=1).is_proved


def test_weights_are_powers_of_the_sides():
    failed = smooth(2, 9, 256, 3)
    bits = packed(failed.reshape(256, -1)).reshape(9, 9, -1)
    usable, widths = np.ones((9, 9), dtype=bool), [np.ones(9)] * 2
    plain = largest_box(bits, usable, budget=12, widths=widths)
    along = largest_box(bits, usable, budget=12, widths=widths, weights=(5.0, 1.0))
    sides = [b - a + 1 for a, b in zip(along.first, along.last, strict=True)]
    assert along.size == pytest.approx(sides[0] ** 5 * sides[1])
    first = plain.last[0] - plain.first[0] + 1
    assert sides[0] >= first
    flat = largest_box(bits, usable, budget=12, widths=widths, weights=(0.0, 1.0))
    assert flat.size >= plain.last[1] - plain.first[1] + 1
