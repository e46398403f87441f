"""Where a box may lie: the numeric factors that the line sets, at one level of each category."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from workbench.decide.wishes import BoxWish
from workbench.define.constraints import Forbidden
from workbench.define.factors import Categorical, Role, Stepped
from workbench.define.settings import Settings
from workbench.errors import DecisionError, Unavailable

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from workbench.define.constraints import Constraint
    from workbench.define.factors import Factor, Numeric
    from workbench.fit.faces import Fit

# Grid lines an axis, by number of axes; and points an axis where a whole box is judged again.
LINES = {1: 81, 2: 41, 3: 17, 4: 11, 5: 9, 6: 7, 7: 5}
CHECKED = {1: 21, 2: 11, 3: 7, 4: 5, 5: 4, 6: 3, 7: 3}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Box:
    """Lowest and highest set value (k,) of each axis, in natural units.

    `is_proved` says that no larger one exists on the grid on which it was sought.
    """

    low: NDArray[np.float64]
    high: NDArray[np.float64]
    is_proved: bool = True

    def moved(self, axis: int, *, low: float | None = None, high: float | None = None) -> Box:
        """Return the box with one end of one axis somewhere else."""
        new = replace(self, low=self.low.copy(), high=self.high.copy())
        if low is not None:
            new.low[axis] = low
        if high is not None:
            new.high[axis] = high
        return new


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Region:
    """The axes (k of them), the range tried of each, and the values of all other factors.

    `fixed` (n_factors,) holds level indices, where a factor is held, the centre of each noise
    factor, the middle of what is only read. `constraints` must be kept, and every fit must call a
    point inside. `low` and `high` (k,) are what was tried, or less if `wish` says so.
    """

    factors: tuple[Factor, ...]
    axes: tuple[Numeric, ...]
    place: tuple[int, ...]
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    fixed: NDArray[np.float64]
    constraints: tuple[Constraint, ...]
    fits: tuple[Fit, ...]
    wish: BoxWish

    @property
    def weights(self) -> tuple[float, ...]:
        """Power of each side in the size of a box."""
        return tuple(self.wish.weight(axis.name) for axis in self.axes)

    @property
    def held(self) -> tuple[tuple[str, float], ...]:
        """Numeric factors held at a value."""
        return tuple(
            (factor.name, float(value))
            for factor, value in zip(self.factors, self.fixed, strict=True)
            if not isinstance(factor, Categorical) and self.wish.held_at(factor.name) is not None
        )

    @property
    def levels(self) -> tuple[tuple[str, str], ...]:
        """The categorical settings of this region."""
        return tuple(
            (factor.name, factor.levels[int(value)])
            for factor, value in zip(self.factors, self.fixed, strict=True)
            if isinstance(factor, Categorical)
        )

    @property
    def span(self) -> NDArray[np.float64]:
        """Range (k,) of each axis as planned, in natural units."""
        return np.array([axis.high - axis.low for axis in self.axes])

    def settings(self, points: NDArray[np.float64]) -> Settings:
        """Return full settings from values (n, k) along the axes."""
        values = np.tile(self.fixed, (points.shape[0], 1))
        values[:, self.place] = points
        return Settings(factors=self.factors, values=values)

    def lines(self) -> tuple[NDArray[np.float64], ...]:
        """Return the grid lines of each axis: even, with every edge of a forbidden range."""
        count = LINES[len(self.axes)]
        return tuple(self._lines(j, count) for j in range(len(self.axes)))

    def _lines(self, j: int, count: int) -> NDArray[np.float64]:
        axis, low, high = self.axes[j], self.low[j], self.high[j]
        if isinstance(axis, Stepped):
            return np.array([step for step in axis.steps if low <= step <= high])
        edges = [
            edge
            for one in self.constraints
            if isinstance(one, Forbidden)
            for name, *ends in one.where
            for edge in ends
            if name == axis.name and low < edge < high
        ]
        return np.unique(np.concatenate([np.linspace(low, high, count), edges]))

    def sides(self, box: Box) -> list[NDArray[np.float64]]:
        """Return the values along each side at which a whole box is judged, ends among them."""
        count = CHECKED[len(self.axes)]
        return [self.along(box, j, count) for j in range(len(self.axes))]

    def lattice(self, box: Box) -> NDArray[np.float64]:
        """Return points (n, k) all over a box, corners and faces among them."""
        return grid(self.sides(box))

    def face(self, box: Box, axis: int, value: float) -> NDArray[np.float64]:
        """Return points (n, k) all over the face of a box at one value of an axis."""
        sides = self.sides(box)
        sides[axis] = np.array([value])
        return grid(sides)

    def along(self, box: Box, j: int, count: int) -> NDArray[np.float64]:
        """Return the values along one side of a box: its steps, or `count` even ones."""
        axis, low, high = self.axes[j], box.low[j], box.high[j]
        if isinstance(axis, Stepped):
            return np.array([step for step in axis.steps if low <= step <= high])
        return np.linspace(low, high, count) if high > low else np.array([low])

    def is_allowed(self, points: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Return which points (n,) keep every constraint and lie in the region tried."""
        settings = self.settings(points)
        allowed = self.is_inside(points)
        for one in self.constraints:
            allowed &= one.allows(settings)
        return allowed

    def is_inside(self, points: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Return which points (n,) every fit calls inside the region tried."""
        settings = self.settings(points)
        inside = np.ones(len(settings), dtype=bool)
        for fit in self.fits:
            within = fit.inside(settings)
            if isinstance(within, Unavailable):
                return np.zeros(len(settings), dtype=bool)
            inside &= within
        return inside

    def blocking(self, box: Box) -> Constraint | None:
        """Return a constraint that some point of the box breaks, or None."""
        for one in self.constraints:
            points = self._telling_points(one, box)
            if not one.allows(self.settings(points)).all():
                return one
        return None

    def _telling_points(self, constraint: Constraint, box: Box) -> NDArray[np.float64]:
        """Return points of the box that break a constraint if any does.

        For a linear limit these are the corners; for a forbidden range the point of the box
        nearest to it.
        """
        if not isinstance(constraint, Forbidden):
            return self.corners(box)
        point = box.low.copy()
        for name, low, _ in constraint.where:
            for j, axis in enumerate(self.axes):
                if axis.name == name:
                    point[j] = np.clip(low, box.low[j], box.high[j])
        return point[None, :]

    def corners(self, box: Box) -> NDArray[np.float64]:
        """Return the corners (2^k, k) of a box."""
        return grid([np.array([a, b]) for a, b in zip(box.low, box.high, strict=True)])


def grid(sides: Sequence[NDArray[np.float64]]) -> NDArray[np.float64]:
    """Return every combination (n, k) of the values along each side, the last fastest."""
    mesh = np.meshgrid(*sides, indexing="ij")
    return np.column_stack([one.ravel() for one in mesh])


def regions(
    fits: tuple[Fit, ...], constraints: tuple[Constraint, ...], wish: BoxWish | None = None
) -> tuple[Region, ...]:
    """Return one region for each combination of levels of the categories that are not held.

    Raises
    ------
    DecisionError
        If a factor is held, or kept within a range, where no run was made.
    """
    wish = wish or BoxWish()
    factors = fits[0].settings.factors
    place = tuple(j for j, one in enumerate(factors) if _is_axis(one, wish))
    numeric = [one for one in factors if not isinstance(one, Categorical)]
    axes = tuple(one for one in numeric if _is_axis(one, wish))
    tried = [_tried(fits, one, wish) for one in axes]
    values = [_fixed_values(fits, one, wish) for one in factors]
    return tuple(
        Region(
            factors=factors,
            axes=axes,
            place=place,
            low=np.array([low for low, _ in tried]),
            high=np.array([high for _, high in tried]),
            fixed=np.array(chosen, dtype=np.float64),
            constraints=constraints,
            fits=fits,
            wish=wish,
        )
        for chosen in product(*values)
    )


def _is_axis(factor: Factor, wish: BoxWish) -> bool:
    is_numeric = not isinstance(factor, Categorical)
    return is_numeric and factor.role is Role.CONTROL and wish.held_at(factor.name) is None


def _tried(fits: tuple[Fit, ...], factor: Numeric, wish: BoxWish) -> tuple[float, float]:
    """Return the lowest and highest value tried and wished of a factor."""
    seen = np.concatenate([fit.settings.column(factor.name) for fit in fits])
    wished = wish.ends(factor)
    low = max(float(np.nanmin(seen)), factor.low, wished[0])
    high = min(float(np.nanmax(seen)), factor.high, wished[1])
    if low > high:
        raise DecisionError(
            f"No run was made with {factor.name} from {wished[0]:g} to {wished[1]:g}.",
            why="Nothing is known there.",
            next_step=f"Ask for a range within {np.nanmin(seen):g} to {np.nanmax(seen):g}.",
        )
    return low, high


def _fixed_values(fits: tuple[Fit, ...], factor: Factor, wish: BoxWish) -> tuple[float, ...]:
    """Return the values at which a factor that is no axis stands, one region each."""
    held = wish.held_at(factor.name)
    if isinstance(factor, Categorical):
        return (
            tuple(float(i) for i in range(len(factor.levels)))
            if held is None
            else (float(factor.index(str(held))),)
        )
    if held is None:
        return (_middle(factor),)
    seen = np.concatenate([fit.settings.column(factor.name) for fit in fits])
    if not np.nanmin(seen) <= float(held) <= np.nanmax(seen):
        raise DecisionError(
            f"{factor.name} cannot be held at {held}.",
            why=f"It was tried from {np.nanmin(seen):g} to {np.nanmax(seen):g} {factor.unit}; "
            "beyond that nothing is known.",
            next_step="Hold it at a value that was tried, or make runs there first.",
        )
    return (float(held),)


def _middle(factor: Numeric) -> float:
    spread = factor.spread
    return spread.centre if spread is not None else (factor.low + factor.high) / 2
