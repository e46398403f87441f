"""What a fit cannot tell, in sentences that travel with its numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import Unavailable
from workbench.fit.aliasing import joint_line
from workbench.fit.run_means import in_words
from workbench.numerics.least_squares import LEVERAGE_ONE

if TYPE_CHECKING:
    from workbench.define.outcomes import Measured
    from workbench.fit.core import Core
    from workbench.fit.run_means import RunMeans


def remarks(core: Core, data: RunMeans, outcome: Measured) -> tuple[str, ...]:
    """Return the notes of a fit: rows left out, what is mixed, what has no answer and why."""
    return (
        *data.notes,
        *mixed_remarks(core),
        *_little_left(core, data),
        *_scatter(core, outcome),
        *scale_remarks(outcome),
        *block_remarks(core, data),
    )


def mixed_remarks(core: Core) -> list[str]:
    """Return which columns share one number, and which never changed."""
    said = [
        f"These runs cannot tell apart the parts of {joint_line(core, int(place))}: "
        "what is shown for the first is the sum."
        for place in np.flatnonzero(core.mixed)
    ]
    dropped = np.flatnonzero(~core.whole.kept)
    lost = [core.matrix.names[j] for j in dropped if not core.whole.combination[:, j].any()]
    if lost:
        said.append(f"{' and '.join(lost)} never changed in the runs used, so nothing is known.")
    return said


def _little_left(core: Core, data: RunMeans) -> list[str]:
    if isinstance(core.variance, Unavailable):
        return [f"No p-values and no intervals: {core.variance.reason}."]
    alone = core.whole.leverage() > 1 - LEVERAGE_ONE
    if not alone.any():
        return []
    return [
        (
            f"The model meets {in_words(data.run[alone])} exactly whatever was read (leverage 1); "
            "no other run can confirm it."
        )
    ]


def _scatter(core: Core, outcome: Measured) -> list[str]:
    if core.is_constant:
        return [
            (
                f"{outcome.name} has the same mean in every run: all effects are zero as far as "
                "these readings can show. Check the resolution of the gauge."
            )
        ]
    if core.variance == 0:
        return ["The model meets every run exactly, so there is no scatter to judge by."]
    return []


def scale_remarks(outcome: Measured) -> list[str]:
    """Return what the scale of the model makes of effects and predicted means."""
    match outcome.scale:
        case "log":
            return [
                (
                    "On the log scale effects are ratios, and predicted means are medians "
                    "(geometric means)."
                )
            ]
        case "inverse":
            return [
                (
                    "Effects are on the inverse scale, where a positive one lowers the outcome; "
                    "predictions are in its own unit, and are medians."
                )
            ]
        case "square root":
            return [
                (
                    "Effects are on the square-root scale; predictions are in the outcome's own "
                    "unit, and are medians."
                )
            ]
        case _:
            return []


def block_remarks(core: Core, data: RunMeans) -> list[str]:
    """Return that blocks are taken as fixed, where there are any."""
    if not core.matrix.n_block_columns:
        return []
    return [
        (
            f"Blocks ({', '.join(data.block_labels)}) are taken as fixed: predictions are for "
            "their average, and say nothing of a new one."
        )
    ]
