"""Incomplete blocks: one category in blocks too small to hold all of its levels."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import combinations, permutations
from math import comb
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical
from workbench.errors import PlanError
from workbench.plan.asked import asked_model
from workbench.plan.draft import Draft, made, new_recipe

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.terms import Terms
    from workbench.define.trial import Trial
    from workbench.plan.plans import Plan

MOST_BLOCKS = 120
MOST_TRIED = 20_000  # choices of first blocks
MOST_PAIRS = 60_000  # pairs of levels counted in all first blocks


@dataclass(frozen=True, slots=True, kw_only=True)
class IncompleteBlocks:
    """Blocks of level indices: every level in `replicates` of them, every pair in `together`."""

    blocks: tuple[tuple[int, ...], ...]
    replicates: int
    together: int

    def efficiency(self, n_levels: int) -> float:
        """Return the share of information kept, λv/(rk) (Yates 1936, Annals of Eugenics 7)."""
        return self.together * n_levels / (self.replicates * len(self.blocks[0]))


def incomplete_blocks(
    trial: Trial, *, seed: int, block_size: int, terms: Terms | str | None = None
) -> Plan:
    """Return a balanced plan of one category in blocks of `block_size`, fewest blocks first.

    Every pair of levels shares equally many blocks (Yates 1936), so that all differences are
    estimated equally well. Found by sending up to three first blocks round a ring of the levels,
    else all combinations.

    Raises
    ------
    PlanError
        If there is not exactly one category, or no balanced plan of a sensible size.
    """
    factor = _only_category(trial)
    n_levels = len(factor.levels)
    found = _found(n_levels, block_size)
    model = asked_model(trial, terms, custom="first-order")
    level = np.array([one for block in found.blocks for one in block], dtype=np.float64)
    label = np.repeat(np.arange(1, len(found.blocks) + 1), block_size)
    draft = Draft(
        coded=level[:, None],
        point=("factorial",) * level.size,
        block=label.astype(np.int64),
        replicate=np.ones(level.size, dtype=np.int64),
    )
    recipe = new_recipe(
        "incomplete blocks",
        seed=seed,
        options=(("block size", block_size), ("terms", model.text or None)),
        notes=(
            (
                f"{len(found.blocks)} blocks of {block_size}; each level in {found.replicates}, "
                f"each pair together in {found.together}. Blocks cost "
                f"{100 * (1 - found.efficiency(n_levels)):.0f} % of the information."
            ),
        ),
    )
    return made(trial, draft, model=model, recipe=recipe)


@cache
def balanced_blocks(n_levels: int, block_size: int) -> IncompleteBlocks | None:
    """Return the balanced blocks with the fewest runs that are found; None beyond 120 blocks."""
    largest = min(comb(n_levels, block_size) - 1, MOST_BLOCKS)
    # All levels go round in a ring, or all but one, which stays where it is (Bose 1939, Annals
    # of Eugenics 9, 353-399).
    rings = sorted((ring * n, ring, n) for ring in (n_levels, n_levels - 1) for n in (1, 2, 3))
    for n_blocks, ring, n_first in rings:
        if n_blocks <= largest:
            found = _developed((n_levels, block_size), ring, n_first)
            if found is not None:
                return found
    if comb(n_levels, block_size) > MOST_BLOCKS:
        return None
    return _counted(tuple(combinations(range(n_levels), block_size)), n_levels)


def _developed(size: tuple[int, int], ring: int, n_first: int) -> IncompleteBlocks | None:
    """Return first blocks sent round a ring of the levels, or of all but one; None if none do."""
    n_levels, block_size = size
    n_starts = comb(ring - 1, block_size - 1) + comb(ring - 1, block_size - 2) * (ring < n_levels)
    if n_starts * block_size**2 > MOST_PAIRS or comb(n_starts, n_first) > MOST_TRIED:
        return None
    starts = [(0, *rest) for rest in combinations(range(1, ring), block_size - 1)]
    if ring < n_levels:
        starts += [(0, *rest, ring) for rest in combinations(range(1, ring), block_size - 2)]
    # Distances round the ring, and with the level that stays if there is one.
    gaps = np.array([_gaps(start, ring) for start in starts])[:, : n_levels - 1]
    for chosen in combinations(range(len(starts)), n_first):
        if np.ptp(gaps[list(chosen)].sum(axis=0)) == 0:
            blocks = tuple(
                tuple(sorted(i if i == ring else (i + shift) % ring for i in starts[one]))
                for one in chosen
                for shift in range(ring)
            )
            return _counted(blocks, n_levels)
    return None


def _gaps(start: tuple[int, ...], ring: int) -> NDArray[np.int64]:
    """Return how often pairs at distance 1, 2, … meet (ring,), last those with level `ring`."""
    moving = [one for one in start if one < ring]
    count = np.zeros(ring, dtype=np.int64)
    for a, b in permutations(moving, 2):
        count[(a - b) % ring] += 1
    with_fixed = len(moving) if len(moving) < len(start) else 0
    return np.append(count[1:], with_fixed)


def _counted(blocks: tuple[tuple[int, ...], ...], n_levels: int) -> IncompleteBlocks:
    inside = np.zeros((len(blocks), n_levels), dtype=np.int64)
    for row, block in enumerate(blocks):
        inside[row, list(block)] = 1
    shared = inside.T @ inside
    off = shared[~np.eye(n_levels, dtype=bool)]
    if np.ptp(off) or np.ptp(np.diagonal(shared)):
        raise AssertionError("blocks that were to be balanced are not")
    return IncompleteBlocks(blocks=blocks, replicates=int(shared[0, 0]), together=int(off[0]))


def _only_category(trial: Trial) -> Categorical:
    factors = trial.planned_factors
    if len(factors) == 1 and isinstance(factors[0], Categorical):
        return factors[0]
    raise PlanError(
        f"Incomplete blocks were asked for with {len(factors)} factors.",
        why="They compare the levels of one category.",
        next_step="Keep one category, or ask for a factorial in blocks (wb.plan.full).",
    )


def _found(n_levels: int, block_size: int) -> IncompleteBlocks:
    if not 2 <= block_size < n_levels:
        raise PlanError(
            f"Blocks of {block_size} were asked for with {n_levels} levels.",
            why="A block holds at least two levels, and with all of them it is complete.",
            next_step=f"Ask for 2 to {n_levels - 1}, or for replicates in blocks (wb.plan.full).",
        )
    found = balanced_blocks(n_levels, block_size)
    if found is not None:
        return found
    sizes = [k for k in range(2, n_levels) if balanced_blocks(n_levels, k) is not None]
    raise PlanError(
        f"No balanced plan of {n_levels} levels in blocks of {block_size} is found within "
        f"{MOST_BLOCKS} blocks.",
        why="Every pair must share equally many blocks.",
        next_step=f"Ask for blocks of {', '.join(map(str, sizes)) or 'another size'}.",
    )
