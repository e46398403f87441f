"""Scales on which scatter is taken to be even, and the way back to the unit of the outcome."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray


def on_scale(values: NDArray[np.float64], scale: str) -> NDArray[np.float64]:
    """Return values above zero on "log" (natural), "square root" or "inverse"; any "as read"."""
    match scale:
        case "log":
            return np.asarray(np.log(values))
        case "square root":
            return np.asarray(np.sqrt(values))
        case "inverse":
            return 1 / values
        case _:
            return np.asarray(values, dtype=np.float64)


def off_scale(values: NDArray[np.float64], scale: str) -> NDArray[np.float64]:
    """Return numbers of the scale in the unit of the outcome.

    Below zero a square root is taken as 0, and an inverse as an outcome without upper end (inf).
    """
    match scale:
        case "log":
            return np.asarray(np.exp(values))
        case "square root":
            return np.maximum(values, 0.0) ** 2
        case "inverse":
            return 1 / np.where(values > 0, values, np.inf) + np.where(values > 0, 0.0, np.inf)
        case _:
            return np.asarray(values, dtype=np.float64)


def turns_round(scale: str) -> bool:
    """Return whether a larger number on the scale is a smaller outcome."""
    return scale == "inverse"


def unit_on_scale(unit: str, scale: str) -> str:
    """Return the unit of a difference on the scale; one of logarithms is a ratio without unit."""
    match scale:
        case "log":
            return ""
        case "square root":
            return f"√({unit})" if unit else ""
        case "inverse":
            return f"1/({unit})" if unit else ""
        case _:
            return unit
