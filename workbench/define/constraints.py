"""Constraints: settings that must not be run, and why."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical
from workbench.errors import DefinitionError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from workbench.define.settings import Settings

ROUNDING = 1e-9  # relative: settings are coded and decoded, sums of coefficients round


@dataclass(frozen=True, slots=True, kw_only=True)
class LinearLimit:
    """A linear inequality: sum of coefficient × setting (natural units) is at most `at_most`."""

    coefficients: tuple[tuple[str, float], ...]
    at_most: float
    reason: str

    def __post_init__(self) -> None:
        _check_reason(self.reason)
        if not self.coefficients:
            raise _says_nothing("A limit on settings names no factor.")
        _check_once(self.factors)
        for value in (self.at_most, *(weight for _, weight in self.coefficients)):
            if not math.isfinite(value):
                raise DefinitionError(
                    f"A limit on settings holds the number {value:g}.",
                    why="Settings are held against it.",
                    next_step="Write finite numbers for the coefficients and at_most.",
                )

    @property
    def factors(self) -> tuple[str, ...]:
        """Names of the factors in it."""
        return tuple(name for name, _ in self.coefficients)

    def allows(self, settings: Settings) -> NDArray[np.bool_]:
        """Return which rows (n,) keep the inequality."""
        total = np.zeros(len(settings))
        size = np.full(len(settings), abs(float(self.at_most)))
        for name, weight in self.coefficients:
            share = weight * settings.column(name)
            total += share
            size += np.abs(share)
        return total <= self.at_most + ROUNDING * size


@dataclass(frozen=True, slots=True, kw_only=True)
class Forbidden:
    """A combination that must not be run.

    `where` lists (factor, low, high) for numeric factors, both ends included, and
    `levels` lists (factor, level) for categorical ones; all must hold at once.
    """

    where: tuple[tuple[str, float, float], ...] = ()
    levels: tuple[tuple[str, str], ...] = ()
    reason: str = ""

    def __post_init__(self) -> None:
        _check_reason(self.reason)
        if not self.factors:
            raise _says_nothing("A forbidden combination names no factor.")
        _check_once(self.factors)
        for name, low, high in self.where:
            if not (math.isfinite(low) and math.isfinite(high) and low <= high):
                raise DefinitionError(
                    f"{name!r} is forbidden from {low:g} to {high:g}.",
                    why="A forbidden range needs two numbers, the lower first.",
                    next_step=f"Write both ends; the end of the range of {name!r} serves if "
                    "everything beyond one value is forbidden.",
                )

    @property
    def factors(self) -> tuple[str, ...]:
        """Names of the factors in it."""
        return tuple(n for n, _, _ in self.where) + tuple(n for n, _ in self.levels)

    def allows(self, settings: Settings) -> NDArray[np.bool_]:
        """Return which rows (n,) are not this combination."""
        met = np.ones(len(settings), dtype=bool)
        for name, low, high in self.where:
            column = settings.column(name)
            slack = ROUNDING * max(abs(low), abs(high))  # an unsafe edge stays unsafe when rounded
            met &= (column >= low - slack) & (column <= high + slack)
        for name, level in self.levels:
            factor = settings.factors[settings.names.index(name)]
            if not isinstance(factor, Categorical):
                raise DefinitionError(
                    f"{name!r} has no levels but a forbidden combination names one.",
                    why="Numeric factors are forbidden over a range.",
                    next_step=f"Give a low and a high end for {name!r}.",
                )
            met &= settings.column(name) == factor.index(level)
        return ~met


Constraint = LinearLimit | Forbidden


def linear_limit(coefficients: Mapping[str, float], *, at_most: float, reason: str) -> LinearLimit:
    """Return the limit: sum of coefficient × setting in natural units is at most `at_most`."""
    return LinearLimit(coefficients=tuple(coefficients.items()), at_most=at_most, reason=reason)


def allowed(constraints: tuple[Constraint, ...], settings: Settings) -> NDArray[np.bool_]:
    """Return which rows (n,) every constraint allows."""
    answer = np.ones(len(settings), dtype=bool)
    for constraint in constraints:
        answer &= constraint.allows(settings)
    return answer


def _check_reason(reason: str) -> None:
    if not reason.strip():
        raise DefinitionError(
            "A constraint has no reason.",
            why="Whoever wants to run there must be able to judge whether it still holds.",
            next_step='Write why, such as reason = "the bead runs off the rib".',
        )


def _check_once(names: tuple[str, ...]) -> None:
    for name in names:
        if names.count(name) > 1:
            raise DefinitionError(
                f"A constraint names {name!r} twice.",
                why="Only one of the two could be meant.",
                next_step="Name each factor once; write two constraints if both hold.",
            )


def _says_nothing(wrong: str) -> DefinitionError:
    return DefinitionError(
        wrong,
        why="It would say nothing about any setting, or forbid them all.",
        next_step="Name the factors, or remove it.",
    )
