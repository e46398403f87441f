"""The geometry of a central composite plan in coded units, and its axial distances."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite, sqrt
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import PlanError
from workbench.plan.draft import Copies, Draft
from workbench.plan.pieces import laid_out
from workbench.plan.verify import verify_axial

if TYPE_CHECKING:
    from workbench.define.terms import Terms
    from workbench.plan.pieces import Layout, Pieces

AXIAL = ("rotatable", "face", "uncorrelated squares", "orthogonal blocks")


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """A composite in k numeric factors: core, axial distance, centre points of each block.

    `core_blocks` is the number of pieces of the core; `axial_centres` is None where the axial
    runs share the one block. Everything is multiplied by `scale` (below 1 if inscribed).
    """

    core: Layout
    core_blocks: int
    core_centres: int
    axial_centres: int | None
    distance: float
    scale: float

    @property
    def k(self) -> int:
        """Number of numeric factors."""
        return len(self.core.factors)

    @property
    def n_centres(self) -> int:
        """Number of centre points, all blocks together."""
        return self.core_centres + (self.axial_centres or 0)

    @property
    def orthogonal_distance(self) -> float | None:
        """Distance at which blocks are orthogonal to the model; None without an axial block."""
        if self.axial_centres is None:
            return None
        return orthogonal_axial_distance(
            self.k,
            self.core.runs,
            core_centres=self.core_centres,
            axial_centres=self.axial_centres,
        )


def rotatable_axial_distance(n_factorial: int) -> float:
    """Return the coded distance of axial points that makes a plan rotatable.

    `n_factorial` counts the runs of the core, which is full or of resolution V
    (Box and Hunter 1957, Annals of Mathematical Statistics 28, 195-241).

    Raises
    ------
    PlanError
        If there is no core.

    Examples
    --------
    >>> rotatable_axial_distance(16)
    2.0
    """
    if n_factorial < 1:
        raise PlanError(
            f"The core has {n_factorial} runs.",
            why="Axial points are placed relative to it.",
            next_step="Start from a two-level core of at least two runs.",
        )
    return float(n_factorial**0.25)


def orthogonal_axial_distance(
    k: int, n_factorial: int, *, core_centres: int, axial_centres: int
) -> float:
    """Return the coded distance at which core and axial blocks are orthogonal to the model.

    The squares of each factor then sum to the same share of the runs in every block: α² =
    n_f (2k + n_ac) / (2 (n_f + n_fc)) (Box and Hunter 1957), centre points counted over all
    core blocks and in the axial block.

    Examples
    --------
    >>> round(orthogonal_axial_distance(3, 8, core_centres=4, axial_centres=2), 5)
    1.63299
    """
    return sqrt(n_factorial * (2 * k + axial_centres) / (2 * (n_factorial + core_centres)))


def uncorrelated_axial_distance(k: int, n_factorial: int, *, centres: int) -> float:
    """Return the coded distance at which the squares of a composite are uncorrelated.

    Their cross products n_f then equal what the mean takes, (n_f + 2α²)²/n with n all runs:
    α² = (√(n n_f) − n_f)/2 (Box and Wilson 1951, JRSS B 13, 1-45).

    Examples
    --------
    >>> round(uncorrelated_axial_distance(3, 8, centres=8), 4)
    1.6227
    """
    n = n_factorial + 2 * k + centres
    return sqrt((sqrt(n * n_factorial) - n_factorial) / 2)


def shaped(core: Layout, copies: Copies, *, axial: str | float, inscribed: bool) -> Shape:
    """Return the shape that is asked, centre points divided over its blocks.

    Raises
    ------
    PlanError
        If the axial distance or the number of blocks is none that exists.
    """
    core_blocks, core_centres, axial_centres = 1, copies.centre_points, None
    if copies.blocks > 1:
        core_blocks, each = copies.blocks - 1, _centres_of_each(copies)
        core_centres = each * core_blocks
        axial_centres = copies.centre_points - core_centres
    plain = Shape(
        core=core,
        core_blocks=core_blocks,
        core_centres=core_centres,
        axial_centres=axial_centres,
        distance=1.0,
        scale=1.0,
    )
    distance = _distance(plain, axial)
    return Shape(
        core=core,
        core_blocks=core_blocks,
        core_centres=core_centres,
        axial_centres=axial_centres,
        distance=distance,
        scale=1 / distance if inscribed and distance > 1 else 1.0,
    )


def composite_draft(shape: Shape, terms: Terms) -> Pieces:
    """Return the runs in k numeric factors: core, axial runs, centre points; and what is lost."""
    pieces = laid_out(shape.core, Copies(blocks=shape.core_blocks), terms)
    axial = np.zeros((2 * shape.k, shape.k))
    for j in range(shape.k):
        axial[2 * j : 2 * j + 2, j] = -shape.distance, shape.distance
    verify_axial(axial, shape.distance)
    has_own_block = shape.axial_centres is not None
    last = shape.core_blocks + 1 if has_own_block else 1
    each = shape.core_centres // shape.core_blocks
    core_centre = np.repeat(np.arange(1, shape.core_blocks + 1), each)
    axial_centre = np.full(shape.axial_centres or 0, last)
    n_centre = len(core_centre) + len(axial_centre)
    whole = np.vstack([pieces.draft.coded, axial, np.zeros((n_centre, shape.k))]) * shape.scale
    return type(pieces)(
        draft=Draft(
            coded=whole,
            point=(*pieces.draft.point, *["axial"] * len(axial), *["centre"] * n_centre),
            block=np.concatenate(
                [pieces.draft.block, np.full(len(axial), last), core_centre, axial_centre]
            ).astype(np.int64),
            replicate=np.ones(len(whole), dtype=np.int64),
            last_block=last if has_own_block else None,
        ),
        notes=pieces.notes,
        lost=pieces.lost,
    )


def _centres_of_each(copies: Copies) -> int:
    if copies.blocks - 1 not in (1, 2, 4, 8):
        raise PlanError(
            f"A composite plan has no {copies.blocks} blocks.",
            why="The core is one block or is cut in 2, 4 or 8; the axial runs are one more.",
            next_step="Ask for 1, 2, 3, 5 or 9 blocks.",
        )
    each = copies.centre_points // copies.blocks
    if each < 1:
        raise PlanError(
            f"{copies.centre_points} centre points were asked for in {copies.blocks} blocks.",
            why="Without one in every block the bend is mixed with the step between blocks.",
            next_step=f"Ask for at least {copies.blocks} centre points.",
        )
    return each


def _distance(shape: Shape, axial: str | float) -> float:
    if axial == "rotatable":
        return rotatable_axial_distance(shape.core.runs)
    if axial == "face":
        return 1.0
    if axial == "uncorrelated squares":
        return _uncorrelated(shape)
    if axial == "orthogonal blocks":
        return _orthogonal(shape)
    if isinstance(axial, str) or not isfinite(axial) or axial <= 0:
        raise PlanError(
            f"The axial distance {axial!r} does not exist.",
            why="It is a positive number of half ranges, or the name of a rule.",
            next_step=f"Write a number such as 1.5, or one of: {', '.join(AXIAL)}.",
        )
    return float(axial)


def _orthogonal(shape: Shape) -> float:
    if shape.orthogonal_distance is None:
        raise PlanError(
            'axial="orthogonal blocks" was asked for with one block.',
            why="There are no blocks to be orthogonal to.",
            next_step='Ask for blocks=2 or more, or for axial="rotatable".',
        )
    return shape.orthogonal_distance


def _uncorrelated(shape: Shape) -> float:
    if shape.axial_centres is not None:
        raise PlanError(
            'axial="uncorrelated squares" was asked for with blocks.',
            why="The distance is worked out for runs in one block; steps between blocks would "
            "mix the squares again.",
            next_step='Ask for blocks=1, or for axial="orthogonal blocks".',
        )
    return uncorrelated_axial_distance(shape.k, shape.core.runs, centres=shape.n_centres)
