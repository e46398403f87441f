"""Constraints: settings that must not be run, and why."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical
from workbench.errors import DefinitionError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from workbench.define.settings import Settings

ROUNDING = 1e-9  # a setting on the edge is allowed; sums of coefficients round


@dataclass(frozen=True, slots=True, kw_only=True)
class LinearLimit:
    """A linear inequality: sum of coefficient × setting (natural units) is at most `at_most`."""

    coefficients: tuple[tuple[str, float], ...]
    at_most: float
    reason: str

    @property
    def factors(self) -> tuple[str, ...]:
        """Names of the factors in it."""
        return tuple(name for name, _ in self.coefficients)

    def allows(self, settings: Settings) -> NDArray[np.bool_]:
        """Return which rows (n,) keep the inequality."""
        total = np.zeros(len(settings))
        for name, weight in self.coefficients:
            total += weight * settings.column(name)
        slack = ROUNDING * max(1.0, abs(self.at_most))
        return total <= self.at_most + slack


@dataclass(frozen=True, slots=True, kw_only=True)
class Forbidden:
    """A combination that must not be run.

    `where` lists (factor, low, high) for numeric factors, both ends included, and
    `levels` lists (factor, level) for categorical ones; all must hold at once.
    """

    where: tuple[tuple[str, float, float], ...] = ()
    levels: tuple[tuple[str, str], ...] = ()
    reason: str = ""

    @property
    def factors(self) -> tuple[str, ...]:
        """Names of the factors in it."""
        return tuple(n for n, _, _ in self.where) + tuple(n for n, _ in self.levels)

    def allows(self, settings: Settings) -> NDArray[np.bool_]:
        """Return which rows (n,) are not this combination."""
        met = np.ones(len(settings), dtype=bool)
        for name, low, high in self.where:
            column = settings.column(name)
            met &= (column >= low) & (column <= high)
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
