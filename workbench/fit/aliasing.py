"""Terms of the model that these runs cannot tell apart."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.fit.nouns import Aliased

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.fit.core import Core


def aliased(core: Core) -> tuple[Aliased, ...]:
    """Return one joint line for each kept column that stands for others as well.

    If column j is Σ c(i, j) × kept column i, then the estimate of i is that of
    i + Σ c(i, j) × j (the alias matrix; Montgomery 2017, section 8.4).
    """
    return tuple(
        Aliased(
            terms=tuple(core.matrix.names[j] for j in (place, *_partners(core, place))),
            line=joint_line(core, place),
        )
        for place in map(int, np.flatnonzero(core.mixed))
    )


def joint_line(
    core: Core,
    place: int,
    *,
    names: tuple[str, ...] | None = None,
    sizes: NDArray[np.float64] | None = None,
) -> str:
    """Return what the estimate of a kept column stands for, such as "a + b × c − 0.5 d".

    With `sizes` (p,) the line is about effects, each size × its coefficient, under `names`.
    """
    labels = names or core.matrix.names
    per = np.ones(len(labels)) if sizes is None else sizes
    line = labels[place]
    for other in _partners(core, place):
        size = core.whole.combination[place, other] * per[place] / per[other]
        sign = "+" if size > 0 else "−"
        times = "" if abs(abs(size) - 1) < 1e-6 else f"{abs(size):.3g} "
        line += f" {sign} {times}{labels[other]}"
    return line


def held_by(core: Core, place: int) -> str:
    """Return the kept columns that a dropped column is a sum of, as words."""
    found = np.flatnonzero(core.whole.combination[:, place])
    return " and ".join(core.matrix.names[i] for i in found) or "nothing (it is zero in every run)"


def _partners(core: Core, place: int) -> NDArray[np.intp]:
    row = core.whole.combination[place]
    return np.flatnonzero((row != 0) & ~core.whole.kept)
