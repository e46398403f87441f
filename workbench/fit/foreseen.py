"""New parts foreseen at many points: the processes drawn, the points, and the limits to meet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import Unavailable
from workbench.fit.faces import ShareDraws
from workbench.numerics.link_shares import averaged
from workbench.numerics.posterior import ALL, outside, tails
from workbench.numerics.share_bounds import curve_bound, normal_bound

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.fit.faces import Foreseen
    from workbench.numerics.link_shares import Curve
    from workbench.numerics.posterior import Process, Some, Spots


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NormalParts:
    """Parts that are normal about the surface, between `low` and `high` on the process's scale.

    `turned` if low and high changed places on that scale.
    """

    process: Process
    spots: Spots
    low: float
    high: float
    turned: bool

    def shares(self, draws: Some = ALL, points: Some = ALL) -> ShareDraws:
        """Return the shares outside each limit in some draws at some points."""
        found = tails(
            self.process.some(draws),
            self.spots.some(draws, points),
            low=self.low,
            high=self.high,
        )
        below, above = (found.above, found.below) if self.turned else (found.below, found.above)
        return ShareDraws(too_low=below, too_high=above)

    def failing(self, draws: Some = ALL, points: Some = ALL) -> NDArray[np.float32]:
        """Return the share outside either limit in some draws at some points."""
        process, where = self.process.some(draws), self.spots.some(draws, points)
        return outside(process, where, low=self.low, high=self.high)

    def worst(self, draws: Some, starts: NDArray[np.intp]) -> NDArray[np.float32]:
        """Return a share (n_draws, g) that what fails does not exceed in each group of points."""
        process, where = self.process.some(draws), self.spots.some(draws, ALL)
        return normal_bound(process, where, starts, low=self.low, high=self.high)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CurvedParts:
    """Parts whose share too low falls along the surface, and whose share too high rises.

    None where a requirement has no such side. `turned` as for `NormalParts`.
    """

    process: Process
    spots: Spots
    falling: Curve | None
    rising: Curve | None
    turned: bool = False

    def shares(self, draws: Some = ALL, points: Some = ALL) -> ShareDraws:
        """Return the shares outside each limit in some draws at some points."""
        process, where = self.process.some(draws), self.spots.some(draws, points)
        place = np.arange(self.process.part_variance.size)[draws]
        sides = [
            np.zeros((place.size, where.mean.shape[0]), dtype=np.float32)
            if curve is None
            else averaged(process, where, _Of(curve, place))
            for curve in (self.falling, self.rising)
        ]
        low, high = reversed(sides) if self.turned else sides
        return ShareDraws(too_low=low, too_high=high)

    def failing(self, draws: Some = ALL, points: Some = ALL) -> NDArray[np.float32]:
        """Return the share outside either limit in some draws at some points."""
        found = self.shares(draws, points)
        if self.falling is None or self.rising is None:
            is_low = (self.rising is None) != self.turned
            return np.array(found.too_low if is_low else found.too_high)
        return found.too_low + found.too_high

    def worst(self, draws: Some, starts: NDArray[np.intp]) -> NDArray[np.float32]:
        """Return a share (n_draws, g) that what fails does not exceed in each group of points."""
        process, where = self.process.some(draws), self.spots.some(draws, ALL)
        place = np.arange(self.process.part_variance.size)[draws]
        curves = (
            None if self.falling is None else _Of(self.falling, place),
            None if self.rising is None else _Of(self.rising, place),
        )
        return curve_bound(process, where, starts, curves=curves)


@dataclass(frozen=True, slots=True, eq=False)
class _Of:
    """A curve for some of its draws (their places)."""

    curve: Curve
    place: NDArray[np.intp]

    def __call__(self, location: NDArray[np.float32], draws: Some) -> NDArray[np.float32]:
        """Return the share (a, n)."""
        return self.curve(location, self.place[draws])


def shares_of(seen: Foreseen | Unavailable) -> ShareDraws | Unavailable:
    """Return the shares in all draws at all points, or why there are none."""
    return seen if isinstance(seen, Unavailable) else seen.shares()
