"""A two-level array laid out: replicates, and blocks by confounding."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import PlanError
from workbench.numerics.words import product_of, signs
from workbench.plan.confounding import SIZES, block_of, choose
from workbench.plan.draft import Draft
from workbench.plan.levels import coded_signs
from workbench.plan.verify import verify_blocks, verify_two_level

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.define.terms import Terms
    from workbench.plan.confounding import Confounding
    from workbench.plan.draft import Copies

SHOWN = 6  # products named in a note; the aliases list them all


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """A two-level array of factors: names of their columns, the first n_basic free."""

    factors: tuple[Factor, ...]
    columns: tuple[int, ...]
    n_basic: int
    resolution: int | None

    @property
    def runs(self) -> int:
        """Runs of one replicate."""
        return int(2**self.n_basic)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pieces:
    """Runs of the factorial part; `lost` names the columns that its blocks take away."""

    draft: Draft
    notes: tuple[str, ...] = ()
    lost: tuple[int, ...] = ()


def laid_out(layout: Layout, copies: Copies, terms: Terms) -> Pieces:
    """Return the verified array in replicates and blocks, losing none of `terms` if it can.

    Raises
    ------
    PlanError
        If the runs cannot be put in that many blocks without losing a main effect.
    """
    array = signs(layout.columns, layout.n_basic)
    verify_two_level(array, resolution=layout.resolution)
    replicate = np.repeat(np.arange(1, copies.replicates + 1), len(array))
    split = _split(copies)
    chosen = _confounding(layout, split, terms) if split > 1 else None
    piece = np.ones(len(array), dtype=np.int64) if chosen is None else block_of(len(array), chosen)
    verify_blocks(array, piece)
    return Pieces(
        draft=Draft(
            coded=np.tile(coded_signs(layout.factors, array), (copies.replicates, 1)),
            point=("factorial",) * len(replicate),
            block=_blocks(replicate, np.tile(piece, copies.replicates), copies),
            replicate=replicate,
        ),
        notes=() if chosen is None else _lost(layout, chosen),
        lost=() if chosen is None else chosen.lost,
    )


def masks(layout: Layout, terms: Terms) -> tuple[int, ...]:
    """Return the name of the column of each term, the mean first; even powers drop out."""
    place = {factor.name: j for j, factor in enumerate(layout.factors)}
    members = [tuple(place[n] for n, power in t.powers if power % 2) for t in terms.terms]
    return (0, *(product_of(layout.columns, group) for group in members))


def _split(copies: Copies) -> int:
    """Return into how many pieces one replicate is cut."""
    if copies.replicates % copies.blocks == 0:
        return 1
    if copies.blocks % copies.replicates == 0:
        return copies.blocks // copies.replicates
    return copies.blocks


def _blocks(
    replicate: NDArray[np.int64], piece: NDArray[np.int64], copies: Copies
) -> NDArray[np.int64]:
    if copies.replicates % copies.blocks == 0:
        return (replicate - 1) // (copies.replicates // copies.blocks) + 1
    if copies.blocks % copies.replicates == 0:
        return (replicate - 1) * (copies.blocks // copies.replicates) + piece
    return piece


def _confounding(layout: Layout, split: int, terms: Terms) -> Confounding:
    wanted = masks(layout, terms)[1:]
    found = None
    if split in SIZES:
        found = choose(layout.columns, layout.n_basic, n_blocks=split, wanted=wanted)
    if found is not None:
        return found
    possible = [
        n
        for n in SIZES
        if choose(layout.columns, layout.n_basic, n_blocks=n, wanted=wanted) is not None
    ]
    listed = ", ".join(map(str, possible)) or "none: run each replicate as one block"
    raise PlanError(
        f"{layout.runs} runs of {len(layout.factors)} factors cannot be cut into {split} blocks.",
        why="Pieces must be of one size and must not take a main effect with them.",
        next_step=f"Numbers of pieces that work here: {listed}.",
    )


def _lost(layout: Layout, chosen: Confounding) -> tuple[str, ...]:
    names = [factor.name for factor in layout.factors]
    lost = {size: _products(layout, chosen, size) for size in (2, 3, 4)}
    if lost[2]:
        return (f"Given up to the blocks: {_listed(names, lost[2])}; no main effect is.",)
    higher = lost[3] or lost[4]
    which = _listed(names, higher) if higher else "products of five factors and more"
    return (f"Given up to the blocks: only {which} and higher products; none of two factors is.",)


def _products(layout: Layout, chosen: Confounding, size: int) -> list[tuple[int, ...]]:
    places = range(len(layout.factors))
    return [
        group
        for group in combinations(places, size)
        if product_of(layout.columns, group) in chosen.lost
    ]


def _listed(names: list[str], groups: list[tuple[int, ...]]) -> str:
    shown = ", ".join(" × ".join(names[j] for j in group) for group in groups[:SHOWN])
    return shown + (f" and {len(groups) - SHOWN} more" if len(groups) > SHOWN else "")
