"""Factors: the process variables of a trial (ISO 3534-3: factor, level)."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.units import normal_unit
from workbench.errors import DefinitionError

if TYPE_CHECKING:
    from numpy.typing import NDArray


class Role(StrEnum):
    """What a factor is to the line.

    `control` is set in production, `noise` is set in the trial but varies in production,
    `observed` is only read (a covariate), `held` is kept constant and printed on the sheet.
    """

    CONTROL = "control"
    NOISE = "noise"
    OBSERVED = "observed"
    HELD = "held"


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """How a noise factor varies in production, in the unit of the factor.

    `shape` is "normal" (centre ± standard deviation) or "uniform" (centre ± half-width).
    """

    shape: str
    centre: float
    width: float

    def __post_init__(self) -> None:
        if self.shape not in ("normal", "uniform"):
            raise DefinitionError(
                f"The distribution {self.shape!r} is not known.",
                why="A noise factor needs the way in which it varies in production.",
                next_step='Write "normal" or "uniform".',
            )
        _check_finite("centre of the distribution", self.centre)
        _check_finite("width of the distribution", self.width)
        if self.width <= 0:
            raise DefinitionError(
                f"The width of the distribution is {self.width:g}.",
                why="A noise factor that does not vary is a held one.",
                next_step="State a width above zero, or make the factor a held one.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Continuous:
    """A factor that can take any value between low and high, in its unit.

    `setting_sd` is the standard deviation with which the line holds a set value (0 is allowed);
    None says that nobody has stated it, and then no window can be computed. `unit` is kept in
    its usual spelling (mm3 becomes mm³).
    """

    name: str
    low: float
    high: float
    unit: str
    setting_sd: float | None
    role: Role = Role.CONTROL
    slow: bool = False
    reset_cost: str = ""
    hazards: tuple[str, ...] = ()
    spread: Spread | None = None

    def __post_init__(self) -> None:
        _check_name(self.name)
        object.__setattr__(self, "unit", normal_unit(self.unit))
        _check_range(self.name, self.low, self.high)
        _check_setting_sd(self.name, self.setting_sd)
        _check_spread(self.name, self.role, self.spread)

    def coded(self, natural: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return coded values, low at −1 and high at +1, same shape."""
        return _coded(natural, self.low, self.high)

    def natural(self, coded: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return values in the factor's unit from coded ones, same shape."""
        return _natural(coded, self.low, self.high)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stepped:
    """A numeric factor with a few settings only, such as a notched dial; `steps` ascend."""

    name: str
    steps: tuple[float, ...]
    unit: str
    setting_sd: float | None
    role: Role = Role.CONTROL
    slow: bool = False
    reset_cost: str = ""
    hazards: tuple[str, ...] = ()
    spread: Spread | None = None

    def __post_init__(self) -> None:
        _check_name(self.name)
        object.__setattr__(self, "unit", normal_unit(self.unit))
        if len(self.steps) < 2:
            raise _one_level(self.name, len(self.steps))
        for step in self.steps:
            _check_finite(f"step of {self.name!r}", step)
        _check_span(self.name, min(self.steps), max(self.steps))
        if list(self.steps) != sorted(set(self.steps)):
            raise DefinitionError(
                f"The steps of {self.name!r} are {', '.join(f'{s:g}' for s in self.steps)}.",
                why="Steps stand in ascending order, each once, so that low and high are plain.",
                next_step="Sort them and remove repeats.",
            )
        _check_setting_sd(self.name, self.setting_sd)
        _check_spread(self.name, self.role, self.spread)

    @property
    def low(self) -> float:
        """Lowest step, in the factor's unit."""
        return self.steps[0]

    @property
    def high(self) -> float:
        """Highest step, in the factor's unit."""
        return self.steps[-1]

    def coded(self, natural: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return coded values, lowest step at −1 and highest at +1, same shape."""
        return _coded(natural, self.low, self.high)

    def natural(self, coded: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return values in the factor's unit from coded ones, same shape."""
        return _natural(coded, self.low, self.high)


@dataclass(frozen=True, slots=True, kw_only=True)
class Categorical:
    """A factor whose levels are names; arrays hold the index of a level (0, 1, …)."""

    name: str
    levels: tuple[str, ...]
    role: Role = Role.CONTROL
    slow: bool = False
    reset_cost: str = ""
    hazards: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        _check_name(self.name)
        if len(self.levels) < 2 and self.role is not Role.HELD:
            raise _one_level(self.name, len(self.levels))
        if len(set(self.levels)) < len(self.levels):
            raise DefinitionError(
                f"A level of {self.name!r} stands twice: {', '.join(self.levels)}.",
                why="Two levels of one name cannot be told apart in a table.",
                next_step="Give each level its own name.",
            )
        if any(not level.strip() for level in self.levels):
            raise DefinitionError(
                f"A level of {self.name!r} has an empty name.",
                why="It cannot be told from a missing entry.",
                next_step="Name every level.",
            )

    @property
    def unit(self) -> str:
        """Return the empty unit of a factor that is not measured."""
        return ""

    def index(self, level: str) -> int:
        """Return the index of a level.

        Raises
        ------
        DefinitionError
            If the factor has no such level.
        """
        if level not in self.levels:
            raise DefinitionError(
                f"{self.name!r} has no level {level!r}.",
                why="Only the levels of the trial can be planned, fitted or predicted.",
                next_step=f"Use one of: {', '.join(self.levels)}.",
            )
        return self.levels.index(level)


@dataclass(frozen=True, slots=True, kw_only=True)
class Component:
    """A share of a mixture: the components of a run add up to one (or to 100 %).

    `low` and `high` are the least and the most that was or may be tried, `unit` is "%" or empty.
    A share is coded as itself, as a part of one, so that a blending model (Scheffé 1958, Journal
    of the Royal Statistical Society B 20, 344-360) reads as its equation.
    """

    name: str
    low: float
    high: float
    unit: str = ""
    setting_sd: float | None = None
    hazards: tuple[str, ...] = ()
    role: Role = Role.CONTROL
    slow: bool = False
    reset_cost: str = ""
    spread: Spread | None = None

    def __post_init__(self) -> None:
        _check_name(self.name)
        object.__setattr__(self, "unit", normal_unit(self.unit))
        _check_range(self.name, self.low, self.high)
        _check_setting_sd(self.name, self.setting_sd)
        if self.unit not in ("", "1", "%"):
            raise DefinitionError(
                f"The share of {self.name!r} is in {self.unit}.",
                why="The shares of a mixture add up, so they are parts of one or per cent.",
                next_step='Leave the unit away, or write unit = "%".',
            )
        if self.low < 0 or self.high > self.total or self.role is not Role.CONTROL or self.spread:
            raise DefinitionError(
                f"The share of {self.name!r} goes from {self.low:g} to {self.high:g}.",
                why=f"A share is from 0 to {self.total:g}, and it is set, not left to vary.",
                next_step="State the least and the most that is tried.",
            )

    @property
    def total(self) -> float:
        """What all shares add up to: 1, or 100 for per cent."""
        return 100.0 if self.unit == "%" else 1.0

    def coded(self, natural: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return shares as parts of one, same shape."""
        return np.asarray(natural, dtype=np.float64) / self.total

    def natural(self, coded: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return parts of one in the component's unit, same shape."""
        return np.asarray(coded, dtype=np.float64) * self.total


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """A setting that is kept constant in the trial and printed on the run sheet."""

    name: str
    value: str
    unit: str = ""
    hazards: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        _check_name(self.name)
        object.__setattr__(self, "unit", normal_unit(self.unit))


Numeric = Continuous | Stepped | Component
Factor = Numeric | Categorical


def is_numeric(factor: Factor) -> bool:
    """Return whether a factor has a scale (continuous, stepped or a share)."""
    return not isinstance(factor, Categorical)


def components(factors: tuple[Factor, ...]) -> tuple[Component, ...]:
    """Return the factors that are shares of the mixture."""
    return tuple(one for one in factors if isinstance(one, Component))


def _coded(natural: NDArray[np.float64], low: float, high: float) -> NDArray[np.float64]:
    return (np.asarray(natural, dtype=np.float64) - (low + high) / 2) / ((high - low) / 2)


def _natural(coded: NDArray[np.float64], low: float, high: float) -> NDArray[np.float64]:
    return (low + high) / 2 + np.asarray(coded, dtype=np.float64) * ((high - low) / 2)


def _check_name(name: str) -> None:
    if not name.strip() or name != name.strip():
        raise DefinitionError(
            f"The name {name!r} is empty or has blanks at its ends.",
            why="Names are how factors and outcomes are found in tables and on sheets.",
            next_step="Give it a name without blanks before or after.",
        )


def _check_finite(what: str, value: float) -> None:
    if not math.isfinite(value):
        raise DefinitionError(
            f"The {what} is {value}.",
            why="It must be a finite number to be set or computed with.",
            next_step="Write the number itself.",
        )


def _check_range(name: str, low: float, high: float) -> None:
    _check_finite(f"low end of {name!r}", low)
    _check_finite(f"high end of {name!r}", high)
    if low >= high:
        raise DefinitionError(
            f"{name!r} goes from low {low:g} to high {high:g}.",
            why="A factor needs a range, low below high, or it cannot show an effect.",
            next_step="Exchange the two, or make it a held setting if it does not vary.",
        )
    _check_span(name, low, high)


def _check_span(name: str, low: float, high: float) -> None:
    # Coding divides by half the range; it must be neither zero nor infinite in doubles.
    if low < high and not (math.isfinite(low + high) and 0 < (high - low) / 2 < math.inf):
        raise DefinitionError(
            f"{name!r} goes from low {low:g} to high {high:g}.",
            why="A range so narrow or so wide cannot be computed with.",
            next_step="State it in a unit in which its numbers are of usual size.",
        )


def _check_setting_sd(name: str, setting_sd: float | None) -> None:
    if setting_sd is None:
        return
    _check_finite(f"setting_sd of {name!r}", setting_sd)
    if setting_sd < 0:
        raise DefinitionError(
            f"The setting_sd of {name!r} is {setting_sd:g}.",
            why="A standard deviation cannot be below zero.",
            next_step="State how well the line holds the setting; 0 if it holds it exactly.",
        )


def _check_spread(name: str, role: Role, spread: Spread | None) -> None:
    if spread is not None and role is not Role.NOISE:
        raise DefinitionError(
            f"{name!r} varies by a distribution of its own but its role is {role.value}.",
            why="Only a noise factor varies in production by a distribution of its own.",
            next_step='Set role = "noise", or state setting_sd instead.',
        )


def _one_level(name: str, count: int) -> DefinitionError:
    return DefinitionError(
        f"{name!r} has {count} level{'' if count == 1 else 's'}.",
        why="With fewer than two levels nothing can be learned about it.",
        next_step="Give it a second level, or make it a held setting.",
    )
