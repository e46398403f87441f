"""Shares that follow a location through a curve, averaged over the scatter of the settings."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from workbench.numerics.posterior import Process, Spots

NODES, WEIGHTS = np.polynomial.hermite_e.hermegauss(5)
SHARES = WEIGHTS / WEIGHTS.sum()

Curve = Callable[[NDArray[np.float64]], NDArray[np.float64]]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Locations:
    """Location (n_draws, n) at each point in each process, and its sd from scattering settings."""

    mean: NDArray[np.float64]
    sd: NDArray[np.float64]

    def averaged(self, curve: Curve) -> NDArray[np.float32]:
        """Return the mean (n_draws, n) of the curve over normal locations.

        By five Gauss-Hermite nodes (Abramowitz and Stegun 1964, 25.4.46), which is exact for
        curves of ninth degree.
        """
        if not self.sd.any():
            return np.asarray(curve(self.mean), dtype=np.float32)
        total = np.zeros(self.mean.shape)
        for node, share in zip(NODES, SHARES, strict=True):
            total += share * curve(self.mean + node * self.sd)
        return np.asarray(total, dtype=np.float32)


def locations(process: Process, spots: Spots) -> Locations:
    """Return locations with what scattering settings add to them (first two moments)."""
    mean = process.coefficients @ spots.mean.T
    variance = np.zeros_like(mean)
    for slope, columns in zip(spots.slopes, spots.slope_columns, strict=True):
        change = process.coefficients[:, columns] @ slope.T
        variance += change * change
    if spots.slopes:
        variance += spots.bend[:, spots.kind]
    return Locations(mean=mean.astype(np.float64), sd=np.sqrt(variance).astype(np.float64))
