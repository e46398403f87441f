"""Blocks of two-level plans: which products of factors are given up for them."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import chain, combinations, product
from typing import TYPE_CHECKING

import numpy as np

from workbench.numerics.words import product_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

SIZES = (2, 4, 8, 16)  # numbers of blocks that are searched


@dataclass(frozen=True, slots=True, kw_only=True)
class Confounding:
    """Names of the products that tell the blocks apart: independent ones, and all of them."""

    independent: tuple[int, ...]
    lost: tuple[int, ...]


def choose(
    columns: tuple[int, ...], n_basic: int, *, n_blocks: int, wanted: tuple[int, ...]
) -> Confounding | None:
    """Return the confounding in 2, 4, 8 or 16 blocks that loses least; None if there is none.

    No main effect is lost; then as few as possible of the products named in `wanted`, then of
    all products of two factors, then of three. Every choice is tried.
    """
    cost = _costs(columns, n_basic, wanted)
    groups = _groups(n_basic, n_blocks)
    if len(groups) == 0:
        return None
    totals = cost[groups].sum(axis=1)
    best = int(np.argmin(totals))
    if not np.isfinite(totals[best]):
        return None
    q = n_blocks.bit_length() - 1
    whole = groups[best]
    return Confounding(
        independent=tuple(int(name) for name in whole[[2**i - 1 for i in range(q)]]),
        lost=tuple(sorted(int(name) for name in whole)),
    )


def block_of(runs: int, chosen: Confounding) -> NDArray[np.int64]:
    """Return the block (runs,) of each run in Yates order, from 1."""
    order = np.arange(runs)
    label = np.zeros(runs, dtype=np.int64)
    for place, name in enumerate(chosen.independent):
        label += (np.bitwise_count(order & name).astype(np.int64) & 1) << place
    return label + 1


def _costs(columns: tuple[int, ...], n_basic: int, wanted: tuple[int, ...]) -> NDArray[np.float64]:
    cost = np.zeros(2**n_basic)
    # Weights that no count of the next kind can reach: three factors of 32 give 4 960 products.
    for size, weight in ((1, np.inf), (2, 1e4), (3, 1.0)):
        for group in combinations(range(len(columns)), size):
            cost[product_of(columns, group)] += weight
    for name in wanted:
        cost[name] += 1e8
    return cost


def _groups(n_basic: int, n_blocks: int) -> NDArray[np.intp]:
    """Return every group of names closed under products, one a row, generators at 2^i − 1."""
    q = n_blocks.bit_length() - 1
    if q > n_basic:
        return np.zeros((0, n_blocks - 1), dtype=np.intp)
    first = np.array(sorted(_reduced_bases(n_basic, q)), dtype=np.intp)
    group = np.zeros((len(first), 1), dtype=np.intp)
    for generator in first.T:
        group = np.concatenate([group, group ^ generator[:, None]], axis=1)
    return group[:, 1:]


def _reduced_bases(n_basic: int, q: int) -> Iterator[tuple[int, ...]]:
    """Yield one basis of q names for each group: leading bits apart, each in its own name only.

    Reduced row echelon forms modulo two: each subspace has exactly one.
    """
    for leading in combinations(range(n_basic), q):
        free = [[i for i in range(top) if i not in leading] for top in leading]
        choices = [
            [(1 << top) | sum(1 << i for i in some) for some in _subsets(places)]
            for top, places in zip(leading, free, strict=True)
        ]
        yield from product(*choices)


def _subsets(places: list[int]) -> Iterator[tuple[int, ...]]:
    return chain.from_iterable(combinations(places, size) for size in range(len(places) + 1))
