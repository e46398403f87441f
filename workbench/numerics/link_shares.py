"""Shares that follow a location through a curve, averaged over the scatter of the settings."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from workbench.numerics.posterior import ALL, Some, added_variances, blocks, means

if TYPE_CHECKING:
    from workbench.numerics.posterior import Process, Spots

NODES = {few: np.polynomial.hermite_e.hermegauss(few) for few in (3, 5)}
LITTLE = 0.25  # sd of locations up to which three nodes are right to 1e-5
FURTHEST = float(NODES[5][0].max())  # standard deviations out to which a curve is looked at

Curve = Callable[[NDArray[np.float32], Some], NDArray[np.float32]]


def averaged(process: Process, spots: Spots, curve: Curve) -> NDArray[np.float32]:
    """Return the share (n_draws, n) that `curve` gives for each location, settings scattering.

    `curve` takes locations (a, n) and which draws (a,) they are of. The mean over normal
    locations is by five Gauss-Hermite nodes (Abramowitz and Stegun 1964, 25.4.46), which is exact
    for curves of ninth degree; by three, exact for fifth degree, where locations scatter little.
    """
    n_draws, n = process.part_variance.size, spots.mean.shape[0]
    found = np.empty((n_draws, n), dtype=np.float32)
    for some in blocks(n_draws, n):
        own, where = process.some(some), spots.some(some, ALL)
        mean = means(own, where)
        found[some] = _over_settings(mean, location_sd(own, where), (curve, some))
    return found


def _over_settings(
    mean: NDArray[np.float32], sd: NDArray[np.float32] | None, how: tuple[Curve, Some]
) -> NDArray[np.float32]:
    curve, draws = how
    if sd is None:
        return curve(mean, draws)
    total = np.zeros_like(mean)
    nodes, weights = NODES[3 if sd.max(initial=0.0) <= LITTLE else 5]
    for node, share in zip(nodes, weights / weights.sum(), strict=True):
        part = curve(mean + np.float32(node) * sd, draws)
        part *= np.float32(share)
        total += part
    return total


def location_sd(process: Process, spots: Spots) -> NDArray[np.float32] | None:
    """Return the sd (n_draws, n) of locations from scattering settings; None where none do."""
    if not spots.slopes:
        return None
    return np.asarray(np.sqrt(added_variances(process, spots)))


def odds_share(logit: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return 1 / (1 + exp(−logit)) in place, as (1 + tanh(logit / 2)) / 2."""
    half = np.float32(0.5)
    logit *= half
    np.tanh(logit, out=logit)
    logit *= half
    logit += half
    return logit
