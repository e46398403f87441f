"""Bounds of what fails anywhere in a group of points, so that most of it need not be computed.

Within a group each column of the surface lies between two ends, so a draw's location does too:
its middle plus or minus Σ |coefficient| × half the range of its column (interval arithmetic:
Moore 1966, Interval Analysis, chapter 2). A share that fails grows with the distance to the far
end and with the spread, so its largest value in the group is no more than at both ends at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.numerics.link_shares import FURTHEST
from workbench.numerics.posterior import ALL, normal_share, product

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.numerics.link_shares import Curve
    from workbench.numerics.posterior import Process, Spots

SLACK = np.float32(1e-3)  # in units of the location: rounding of float32


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reach:
    """Lowest and highest location (n_draws, g) in each group, and the largest added variance."""

    low: NDArray[np.float32]
    high: NDArray[np.float32]
    added: NDArray[np.float32]


def reach(process: Process, spots: Spots, starts: NDArray[np.intp]) -> Reach:
    """Return the ends of the locations in groups of points that begin at `starts` (g,)."""
    low, high = _ends(process.coefficients, spots.mean, starts)
    if spots.shift is not None:
        low = low + np.minimum.reduceat(spots.shift, starts)
        high = high + np.maximum.reduceat(spots.shift, starts)
    added = np.repeat(spots.bend.max(axis=1, initial=0.0)[:, None], starts.size, axis=1)
    for slope, columns in zip(spots.slopes, spots.slope_columns, strict=True):
        ends = _ends(process.coefficients[:, columns], slope, starts)
        added += np.maximum(np.abs(ends[0]), np.abs(ends[1])) ** 2
    return Reach(low=low - SLACK, high=high + SLACK, added=added)


def normal_bound(
    process: Process, spots: Spots, starts: NDArray[np.intp], *, low: float, high: float
) -> NDArray[np.float32]:
    """Return a share (n_draws, g) that no normal share outside the limits exceeds in a group."""
    found = reach(process, spots, starts)
    variance = found.added + process.part_variance[:, None]
    if process.moving_variance is not None and process.log_slopes is not None:
        if spots.scatter is None:
            raise ValueError("the scatter moves with the settings, and the points do not say how")
        widest = _ends(process.log_slopes, spots.scatter, starts)[1]
        variance = variance + process.moving_variance[:, None] * np.exp(widest)
    sd = np.asarray(np.sqrt(np.maximum(variance, np.float32(1e-30))))
    total = np.zeros_like(sd)
    for gap, is_open in (
        (np.float32(low) - found.low, low == -np.inf),
        (found.high - np.float32(high), high == np.inf),
    ):
        if not is_open:
            total += np.where(gap < 0, normal_share(gap / sd), np.float32(1))
    return np.asarray(total)


def curve_bound(
    process: Process, spots: Spots, starts: NDArray[np.intp], *, curves: tuple[Curve | None, ...]
) -> NDArray[np.float32]:
    """Return a share (n_draws, g) that no averaged share exceeds in a group.

    `curves` are the share too low, which falls with the location, and too high, which rises.
    """
    found = reach(process, spots, starts)
    out = np.float32(FURTHEST) * np.sqrt(found.added) if spots.slopes else np.float32(0)
    total = np.zeros_like(found.low)
    for curve, end in zip(curves, (found.low - out, found.high + out), strict=True):
        if curve is not None:
            total += curve(end, ALL)
    return total


def _ends(
    coefficients: NDArray[np.float32], columns: NDArray[np.float32], starts: NDArray[np.intp]
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    least = np.minimum.reduceat(columns, starts, axis=0)
    most = np.maximum.reduceat(columns, starts, axis=0)
    half = np.float32(0.5)
    middle = product(coefficients, (least + most) * half)
    away = product(np.abs(coefficients), (most - least) * half)
    return middle - away, middle + away


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Groups:
    """Points put in an order (n,) in which near ones are neighbours; groups begin at `starts`."""

    order: NDArray[np.intp]
    starts: NDArray[np.intp]

    def slices(self) -> list[slice]:
        """Return the places of each group in that order."""
        ends = [*self.starts[1:], self.order.size]
        return [slice(int(a), int(b)) for a, b in zip(self.starts, ends, strict=True)]


def near_groups(points: NDArray[np.float64], size: int) -> Groups:
    """Return groups of at most `size` of the points (n, k), halved along their longest side."""
    span = np.ptp(points, axis=0) if len(points) else np.ones(points.shape[1])
    scaled = points / np.where(span > 0, span, 1.0)
    waiting, done = [np.arange(len(points))], []
    while waiting:
        some = waiting.pop()
        if some.size <= size:
            done.append(some)
            continue
        axis = int(np.argmax(np.ptp(scaled[some], axis=0)))
        ranked = some[np.argsort(scaled[some, axis], kind="stable")]
        waiting += [ranked[some.size // 2 :], ranked[: some.size // 2]]
    sizes = np.array([0, *(one.size for one in done[:-1])])
    return Groups(
        order=np.concatenate(done) if done else np.arange(0),
        starts=np.cumsum(sizes).astype(np.intp),
    )
