"""Run order: every order as likely, blocks and resets kept together."""

from collections import Counter

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.plan.order import resets, run_order


def rng(seed):
    return np.random.Generator(np.random.PCG64(seed))


def test_every_order_is_reached_about_as_often():
    # 4 runs, 24 orders, 4 800 seeds: chi-square with 23 df stays below its 1e-6 point, 73.
    one, own = np.ones(4, dtype=np.int64), np.arange(4)
    orders = Counter(
        tuple(run_order(one, own, last_block=None, rng=rng(seed)).rows) for seed in range(4800)
    )
    assert len(orders) == 24
    assert sum((n - 200) ** 2 / 200 for n in orders.values()) < 73


@pytest.mark.property
@settings(max_examples=50, deadline=None)
@given(
    labels=st.lists(st.tuples(st.integers(1, 3), st.integers(0, 3)), min_size=1, max_size=30),
    seed=st.integers(0, 2**63 - 1),
    closes=st.booleans(),
)
def test_blocks_and_resets_stay_together(labels, seed, closes):
    block, reset = (np.array(column, dtype=np.int64) for column in zip(*labels, strict=True))
    last = int(block[0]) if closes else None
    order = run_order(block, reset, last_block=last, rng=rng(seed))
    assert sorted(order.rows) == list(range(len(block)))
    assert set(np.diff(order.block)) <= {0, 1}
    assert set(np.diff(order.setup)) <= {0, 1}
    assert (order.block[0], order.setup[0]) == (1, 1)
    pairs = set(zip(block[order.rows], reset[order.rows], order.setup, strict=True))
    assert len(pairs) == order.setup[-1] == len(set(labels))
    assert len(set(zip(block[order.rows], order.block, strict=True))) == len(set(block))
    if last is not None:
        assert block[order.rows][-1] == last


def test_runs_share_a_reset_only_within_a_replicate():
    slow = np.array([[1.0], [2.0], [1.0], [2.0]])
    assert len(set(resets(slow, np.array([1, 1, 1, 1])))) == 2
    assert len(set(resets(slow, np.array([1, 1, 2, 2])))) == 4
    assert len(set(resets(np.zeros((4, 0)), np.ones(4, dtype=np.int64)))) == 4
