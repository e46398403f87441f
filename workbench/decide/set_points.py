"""Where inside the window to set: most robust, best for one goal, or a classical compromise."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.decide.desirability import desirability, usual_desire
from workbench.decide.goals import fit_named, goals_of, means
from workbench.decide.rounding import resolution
from workbench.decide.sample import Ask, Sample, judge
from workbench.define.factors import Categorical, Stepped
from workbench.define.outcomes import is_judged
from workbench.define.settings import Settings
from workbench.errors import Unavailable
from workbench.numerics.best_point import best_point, lattice

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from workbench.decide.desirability import Desire
    from workbench.decide.goals import Goal
    from workbench.decide.windows import Limit, Window
    from workbench.define.settings import Value
    from workbench.fit.faces import Fit

N_DRAWS = 4096
NEAR = 1e-4  # of a side of the window: finer than anyone sets
CONFIDENCE = 0.95  # of the intervals of predictions
ROBUST, DESIRABLE = "most robust", "desirability"


@dataclass(frozen=True, slots=True, kw_only=True)
class Foreseen:
    """One outcome at a set point, in its unit: mean with its interval, interval of a new part."""

    outcome: str
    unit: str
    mean: float
    mean_low: float
    mean_high: float
    new_part_low: float | Unavailable
    new_part_high: float | Unavailable


@dataclass(frozen=True, slots=True, kw_only=True)
class SetPoint:
    """One way to choose the set point inside a window.

    `chance` is the share of new parts that meet every requirement, averaged over what is not
    known; `assured` the share met with the window's confidence. Every point lies in the window,
    so each is assured at least what the window promises. `overall` is the desirability (None for
    the other ways). `foreseen` are the outcomes there with 95 % intervals.
    """

    name: str
    why: str
    settings: tuple[tuple[str, Value], ...]
    chance: float
    assured: float
    foreseen: tuple[Foreseen | Unavailable, ...]
    overall: float | None = None


def set_points(
    fits: Sequence[Fit],
    window: Window,
    *,
    seed: int,
    goals: Sequence[Goal] | None = None,
    desires: Sequence[Desire] | None = None,
) -> tuple[SetPoint, ...]:
    """Return the set points to choose from: robust, one for each goal, and by desirability.

    Parameters
    ----------
    fits
        The fits that the window rests on.
    window
        Where the set point may lie.
    seed
        Of the draws behind chance and assured share.
    goals
        Which way each outcome is better; from its requirement if not given.
    desires
        How desirable each mean is; from requirements and the means in the window if not given.

    Raises
    ------
    DecisionError
        If a goal names an outcome without a fit.
    """
    inside = _Inside(fits=tuple(fits), window=window, seed=seed)
    wanted = goals_of(fits) if goals is None else tuple(goals)
    found = [
        inside.point(
            ROBUST,
            window.set_point(),
            why="the highest assured share in the window, nearest to its middle, easy to set",
        )
    ]
    found += [one for goal in wanted if (one := _best_for(inside, goal)) is not None]
    if len(wanted) > 1 or desires:
        compromise = _by_desirability(inside, wanted, desires)
        found += [compromise] if compromise is not None else []
    return tuple(found)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Inside:
    """A window, with the fits that say what happens in it."""

    fits: tuple[Fit, ...]
    window: Window
    seed: int

    @property
    def low(self) -> NDArray[np.float64]:
        return np.array([one.low for one in self.window.limits])

    @property
    def high(self) -> NDArray[np.float64]:
        return np.array([one.high for one in self.window.limits])

    def settings(self, points: NDArray[np.float64]) -> Settings:
        """Return full settings (n, factors) of points (n, limits), steps at the nearest step."""
        factors = self.fits[0].settings.factors
        known = dict(self.window.levels)
        place = {one.factor.name: j for j, one in enumerate(self.window.limits)}
        values = np.empty((len(points), len(factors)))
        for j, factor in enumerate(factors):
            if factor.name in place:
                values[:, j] = _stepped(factor, points[:, place[factor.name]])
            elif isinstance(factor, Categorical):
                values[:, j] = factor.index(known[factor.name]) if factor.name in known else 0
            else:
                centre = factor.spread.centre if factor.spread is not None else None
                middle = (factor.low + factor.high) / 2
                values[:, j] = middle if centre is None else centre
        return Settings(factors=factors, values=values)

    def may(self, points: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Return which points every fit calls inside the region tried."""
        settings = self.settings(points)
        found = np.ones(len(points), dtype=bool)
        for fit in self.fits:
            seen = fit.predict(settings, confidence=CONFIDENCE)
            if not isinstance(seen, Unavailable):
                found &= seen.inside
        return found

    def best(
        self, objective: Callable[[Settings], NDArray[np.float64]]
    ) -> NDArray[np.float64] | None:
        return best_point(
            lambda points: objective(self.settings(points)),
            self.low,
            self.high,
            may=self.may,
            tolerance=NEAR,
        )

    def point(
        self, name: str, at: dict[str, Value], *, why: str, overall: float | None = None
    ) -> SetPoint:
        """Return a set point with what is foreseen there."""
        row = np.array([[float(at[one.factor.name]) for one in self.window.limits]])
        place = self.settings(row)
        judged = tuple(fit for fit in self.fits if is_judged(fit.outcome))
        sample = Sample(
            fits=judged,
            n_draws=N_DRAWS,
            seed=self.seed,
            model_form=self.window.model_form,
            ask=Ask(share=self.window.share, confidence=self.window.confidence),
        )
        seen = judge(sample, place)
        return SetPoint(
            name=name,
            why=why,
            settings=tuple(at.items()),
            chance=float(seen.chance[0]),
            assured=float(seen.assured[0]),
            foreseen=tuple(foreseen(fit, place) for fit in self.fits),
            overall=overall,
        )

    def named(self, point: NDArray[np.float64]) -> dict[str, Value]:
        """Return a point as settings that can be read on a line, with the window's levels."""
        read = [_readable(one, v) for one, v in zip(self.window.limits, point, strict=True)]
        values = self.settings(np.array([read]))
        at = values.as_dicts()[0]
        names = [one.factor.name for one in self.window.limits]
        return {name: at[name] for name in names} | dict(self.window.levels)


def foreseen(fit: Fit, place: Settings) -> Foreseen | Unavailable:
    """Return what a fit foresees at one setting (1, k), with 95 % intervals."""
    seen = fit.predict(place, confidence=CONFIDENCE)
    if isinstance(seen, Unavailable):
        return seen
    low, high = seen.new_part_low, seen.new_part_high
    return Foreseen(
        outcome=fit.outcome.name,
        unit=str(getattr(fit.outcome, "unit", "")),
        mean=float(seen.mean[0]),
        mean_low=float(seen.mean_low[0]),
        mean_high=float(seen.mean_high[0]),
        new_part_low=low if isinstance(low, Unavailable) else float(low[0]),
        new_part_high=high if isinstance(high, Unavailable) else float(high[0]),
    )


def _best_for(inside: _Inside, goal: Goal) -> SetPoint | None:
    fit = fit_named(inside.fits, goal.outcome)

    def merit(settings: Settings) -> NDArray[np.float64]:
        found = means(fit, settings)
        return np.zeros(len(settings)) if isinstance(found, Unavailable) else goal.merit(found)

    point = inside.best(merit)
    if point is None:
        return None
    return inside.point(
        f"best for {goal.outcome}",
        inside.named(point),
        why=f"the most of one goal inside the window: {goal.words()}",
    )


def _by_desirability(
    inside: _Inside, goals: Sequence[Goal], desires: Sequence[Desire] | None
) -> SetPoint | None:
    chosen = tuple(desires) if desires is not None else _usual(inside, goals)
    if not chosen:
        return None

    def merit(settings: Settings) -> NDArray[np.float64]:
        found = [means(fit_named(inside.fits, one.outcome), settings) for one in chosen]
        told = [np.zeros(len(settings)) if isinstance(m, Unavailable) else m for m in found]
        return desirability(chosen, told)

    point = inside.best(merit)
    if point is None:
        return None
    at = inside.named(point)
    return inside.point(
        DESIRABLE,
        at,
        why="the largest desirability of the means (Derringer and Suich 1980), a classical "
        "compromise: neither scatter nor doubt stands in it",
        overall=float(merit(inside.settings(point[None, :]))[0]),
    )


def _usual(inside: _Inside, goals: Sequence[Goal]) -> tuple[Desire, ...]:
    """Return the desirability that requirements and the means at the window's corners imply."""
    points = inside.settings(lattice(inside.low, inside.high, 5))
    found = []
    for goal in goals:
        fit = fit_named(inside.fits, goal.outcome)
        there = means(fit, points)
        if not isinstance(there, Unavailable):
            found.append(usual_desire(fit.outcome, goal, there))
    return tuple(one for one in found if one is not None)


def _readable(limit: Limit, value: float) -> float:
    """Return a value to the third digit of the range, inside the limits."""
    step = resolution(limit.factor) if not isinstance(limit.factor, Categorical) else 1.0
    digits = int(max(0, 1 - np.floor(np.log10(step))))
    return float(np.clip(round(np.round(value / step) * step, digits), limit.low, limit.high))


def _stepped(factor: object, values: NDArray[np.float64]) -> NDArray[np.float64]:
    if not isinstance(factor, Stepped):
        return values
    steps = np.array(factor.steps)
    return np.asarray(steps[np.abs(values[:, None] - steps).argmin(axis=1)])
