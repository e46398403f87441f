"""Desirability: outcomes of different units brought to one scale from 0 to 1, and combined.

Derringer and Suich (1980), Journal of Quality Technology 12, 214-219.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray


def ramp(
    values: NDArray[np.float64], *, nothing: float, full: float, weight: float = 1.0
) -> NDArray[np.float64]:
    """Return ((y − nothing) / (full − nothing))^weight, 0 before and 1 beyond, same shape.

    With `nothing` below `full` more is better, with `nothing` above it less is. A weight above 1
    asks to come close to `full`, one below 1 is content with little.

    Examples
    --------
    >>> ramp(np.array([110.0, 145.0, 180.0]), nothing=120, full=170)
    array([0. , 0.5, 1. ])
    """
    part = np.clip((values - nothing) / (full - nothing), 0.0, 1.0)
    return np.asarray(part**weight)


def overall(each: NDArray[np.float64], importance: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the weighted geometric mean (n,) of desirabilities (k, n): 0 where one is 0."""
    some = each > 0
    logs = np.log(np.where(some, each, 1.0))
    mean = np.exp(importance @ logs / importance.sum())
    return np.where(some.all(axis=0), mean, 0.0)
