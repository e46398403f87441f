"""Largest boxes on a grid in which few enough draws fail anywhere."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.numerics.bit_grid import bit_grid, counts, packed
from workbench.numerics.box_bounds import GridBox, bounded_box
from workbench.numerics.box_growth import grown_box

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

__all__ = ["GridBox", "counts", "largest_box", "packed"]

EXACT_AXES = 4  # up to so many axes the search goes on until the box is proved the largest
STARTS, KICKS = 2, 6  # of growth that only has to find a first bound
MORE_STARTS, MORE_KICKS = 6, 24  # where growth may have the last word
MOST_SETS = 200_000  # of boxes looked at before growth has the last word


def largest_box(
    bits: NDArray[np.uint64],
    usable: NDArray[np.bool_],
    *,
    budget: int,
    widths: Sequence[NDArray[np.float64]],
    weights: Sequence[float] | None = None,
) -> GridBox | None:
    """Return the box of the largest size in which at most `budget` draws fail anywhere.

    `bits` (g1, …, gk, words) hold the draws that fail at each grid point, `usable` (g1, …, gk)
    the points that may be part of a box, `widths` the width for which each grid line stands; a
    side is as long as the sum of its widths, the size is the product of the sides, each to the
    power of its weight (1 if None). A box is
    grown, then proved the largest or replaced by a larger one. With up to four axes the proof is
    always carried through; with more it is given up after 200,000 sets of boxes, and the answer
    says so. Of boxes of one size that in which the fewest draws fail is taken, then the first.
    None if no point alone keeps the budget.
    """
    powers = np.ones(usable.ndim) if weights is None else np.array(weights)
    whole = bit_grid(bits, usable, budget=budget, widths=widths, weights=powers)
    if not whole.able.any():
        return None
    crop = tuple(_extent(whole.able, axis) for axis in range(whole.n_axes))
    inner = bit_grid(
        np.ascontiguousarray(whole.bits[crop]),
        whole.able[crop],
        budget=budget,
        widths=[width[part] for width, part in zip(widths, crop, strict=True)],
        weights=powers,
    )
    is_exact = inner.n_axes <= EXACT_AXES
    start = grown_box(
        inner,
        starts=STARTS if is_exact else MORE_STARTS,
        kicks=KICKS if is_exact else MORE_KICKS,
    )
    best = bounded_box(inner, start, most=np.iinfo(np.int64).max if is_exact else MOST_SETS)
    shift = [part.start for part in crop]
    return GridBox(
        first=tuple(i + s for i, s in zip(best.first, shift, strict=True)),
        last=tuple(i + s for i, s in zip(best.last, shift, strict=True)),
        size=best.size,
        is_proved=best.is_proved,
    )


def _extent(able: NDArray[np.bool_], axis: int) -> slice:
    other = tuple(i for i in range(able.ndim) if i != axis)
    where = np.flatnonzero(able.any(axis=other))
    return slice(int(where[0]), int(where[-1]) + 1)
