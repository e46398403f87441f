"""Runs of each kind of next trial, around the place that comes nearest."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from workbench.decide.next_trial_gain import margin, needed_now
from workbench.decide.next_trial_stand import controls, is_nearer_low
from workbench.define.constraints import allowed
from workbench.define.factors import Categorical, Stepped
from workbench.define.settings import Settings
from workbench.errors import Unavailable
from workbench.fit.measured import MeasuredFit
from workbench.fit.second_order import steepest_ascent
from workbench.numerics.front import joint_direction

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.decide.next_trial_stand import Stand
    from workbench.define.constraints import Constraint
    from workbench.define.factors import Factor, Numeric

AROUND = 0.25  # of the range tried: how far the corners stand from the place
AXIAL_CENTRES = 3
TWICE = 2
STEP = 0.25  # of the range, the longest component of one step along the path
STEPS = 2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Runs:
    """Runs (m, k) over the planned factors, and what each is for."""

    settings: Settings
    point: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ground:
    """Where runs may lie: planned factors, the place as a row (k,), what must not be run."""

    factors: tuple[Factor, ...]
    place: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    constraints: tuple[Constraint, ...]

    @property
    def axes(self) -> tuple[int, ...]:
        """Columns of the numeric factors that the line sets."""
        moving = controls(self.factors)
        return tuple(j for j, one in enumerate(self.factors) if one in moving)

    @property
    def middle(self) -> NDArray[np.float64]:
        """The place (k,) with each moving factor in the middle of the range tried."""
        row = self.place.copy()
        for j in self.axes:
            row[j] = _set_value(self.factors[j], (self.low[j] + self.high[j]) / 2)
        return row

    def runs(self, rows: NDArray[np.float64], points: list[str]) -> Runs:
        """Return the rows that may be run."""
        wanted = Settings(factors=self.factors, values=rows)
        may = allowed(self.constraints, wanted) if self.constraints else np.ones(len(rows), bool)
        return Runs(
            settings=wanted.rows(may),
            point=tuple(p for p, ok in zip(points, may, strict=True) if ok),
        )


def ground(at: Stand, factors: tuple[Factor, ...], constraints: tuple[Constraint, ...]) -> Ground:
    """Return where runs around the place may lie, over the factors of the plan."""
    tried = [at.place.factors.index(one) for one in factors if one in at.place.factors]
    values = np.vstack([fit.settings.values for fit in at.fits])[:, tried]
    place = at.place.values[0][tried]
    return Ground(
        factors=factors,
        place=np.array([_set_value(f, float(v)) for f, v in zip(factors, place, strict=True)]),
        low=np.nanmin(values, axis=0),
        high=np.nanmax(values, axis=0),
        constraints=tuple(
            one for one in constraints if set(one.factors) <= {f.name for f in factors}
        ),
    )


def replicates(on: Ground, count: int) -> Runs:
    """Return runs in turn at the place and in the middle of the ranges.

    The middle ties the new block to the old ones, or the step between them would stand in the
    mean at the place.
    """
    rows = [on.place if i % 2 == 0 else on.middle for i in range(count)]
    names = ["nearest miss" if i % 2 == 0 else "centre" for i in range(count)]
    return on.runs(np.array(rows), names)


def corners(on: Ground) -> Runs:
    """Return the corners of a box around the place (half of them from four factors), and it.

    They stand between the levels tried, where a bend that the model cannot draw would show.
    """
    axes = on.axes
    signs = np.array(list(product([-1.0, 1.0], repeat=len(axes))))
    if len(axes) >= 4:
        signs = signs[signs.prod(axis=1) > 0]
    rows = np.tile(on.place, (len(signs), 1))
    for i, j in enumerate(axes):
        rows[:, j] = [_aside(on, j, sign) for sign in signs[:, i]]
    rows = np.unique(rows, axis=0)
    names = ["corner"] * len(rows) + ["nearest miss"] * TWICE
    return on.runs(np.vstack([rows, np.tile(on.place, (TWICE, 1))]), names)


def axial(on: Ground) -> Runs:
    """Return runs with one factor at an end and the others in the middle, and centre points."""
    rows, names = [], []
    for j in on.axes:
        for end in (on.low[j], on.high[j]):
            row = on.middle
            row[j] = end
            rows.append(row)
            names.append("axial")
    rows += [on.middle] * AXIAL_CENTRES
    names += ["centre"] * AXIAL_CENTRES
    return on.runs(np.array(rows), names)


def further(at: Stand, on: Ground) -> Runs | Unavailable:
    """Return runs along the steepest way on from the edges, each twice, and the place twice.

    The direction is that of steepest ascent of what lacks margin (Box and Wilson 1951),
    its components kept that leave the range tried at an end that is in the way; where none does,
    straight out from those ends.
    """
    steps = _direction(at, on)
    if not steps.any():
        return Unavailable(reason="no factor at the end of its range can be set further")
    path = [on.place + i * steps for i in range(1, STEPS + 1)]
    rows = np.array([_written(on, row) for row in path for _ in range(TWICE)])
    names = ["further"] * len(rows) + ["nearest miss"] * TWICE
    found = on.runs(np.vstack([rows, np.tile(on.place, (TWICE, 1))]), names)
    if "further" not in found.point:
        return Unavailable(reason="what lies beyond the range tried must not be run")
    return found


def _direction(at: Stand, on: Ground) -> NDArray[np.float64]:
    """Return one step (k,) in natural units."""
    slopes = _ascent(at)
    wanted = np.zeros(len(on.factors))
    for edge in at.edges:
        j = on.factors.index(edge.factor)
        if not isinstance(edge.factor, Stepped):
            wanted[j] = max(edge.side * slopes.get(edge.factor.name, 0.0), 0.0) * edge.side
    if not wanted.any():
        for edge in at.edges:
            if not isinstance(edge.factor, Stepped):
                wanted[on.factors.index(edge.factor)] = edge.side
    longest = np.abs(wanted).max()
    step = wanted / (longest or 1.0) * STEP * (on.high - on.low)
    return step * _above_zero(on, step)


def _above_zero(on: Ground, step: NDArray[np.float64]) -> float:
    """Return by what to shorten a step, so that what was above zero goes no more than half way.

    A gap, a speed or a time of zero is no setting, and nobody has said where it ends to be one.
    """
    down = (step < 0) & (on.low > 0)
    if not down.any():
        return 1.0
    room = on.place[down] - on.low[down] / 2
    return float(min(1.0, (room / (-STEPS * step[down])).min()))


def _ascent(at: Stand) -> dict[str, float]:
    """Return the way on by factor: that of all outcomes that lack margin, weighted by R²."""
    levels = {
        one.name: str(value)
        for one, value in zip(at.place.factors, at.place.as_dicts()[0].values(), strict=True)
        if isinstance(one, Categorical)
    }
    names = [one.name for one in controls(at.place.factors)]
    ways, priorities = [], []
    for fit in at.fits:
        if not isinstance(fit, MeasuredFit) or not (fit is at.limiting or _lacks(at, fit)):
            continue
        rises = at.fails_low if fit is at.limiting else is_nearer_low(fit, at.place)
        found = steepest_ascent(fit, levels=levels, rises=rises)
        if isinstance(found, Unavailable):
            continue
        along = {f.name: float(v) for f, v in zip(found.factors, found.direction, strict=True)}
        ways.append([along.get(name, 0.0) for name in names])
        priorities.append(0.0 if isinstance(fit.r_squared, Unavailable) else fit.r_squared)
    if not ways:
        return {}
    joint = joint_direction(np.array(ways), np.array(priorities))
    return dict(zip(names, joint.tolist(), strict=True))


def _lacks(at: Stand, fit: MeasuredFit) -> bool:
    """Return whether an outcome stands too near its limit at the place, for itself."""
    own = replace(at, limiting=fit, assured=None)
    has, needs = margin(own), needed_now(own)
    return not isinstance(has, Unavailable) and not isinstance(needs, Unavailable) and has < needs


def _aside(on: Ground, j: int, sign: float) -> float:
    factor = on.factors[j]
    value = float(on.place[j] + sign * AROUND * (on.high[j] - on.low[j]))
    if isinstance(factor, Stepped):
        beside = [s for s in factor.steps if (s - on.place[j]) * sign > 0]
        value = min(beside, key=lambda s: abs(s - on.place[j])) if beside else on.place[j]
    return float(np.clip(_set_value(factor, value), on.low[j], on.high[j]))


def _set_value(factor: Factor, value: float) -> float:
    """Return a value that can be set: a step, or a few digits."""
    if isinstance(factor, Stepped):
        return min(factor.steps, key=lambda step: abs(step - value))
    if isinstance(factor, Categorical):
        return value
    return _rounded(factor, value)


def _rounded(factor: Numeric, value: float) -> float:
    """Return a value to about a hundredth of the range: more is not set by hand."""
    digits = int(np.ceil(-np.log10((factor.high - factor.low) / 100)))
    return round(value, digits)


def _written(on: Ground, row: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.array([_set_value(f, float(v)) for f, v in zip(on.factors, row, strict=True)])
