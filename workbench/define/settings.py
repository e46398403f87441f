"""Settings: one row a run, one column a factor, the array that every layer passes on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical
from workbench.errors import DefinitionError

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from numpy.typing import NDArray

    from workbench.define.factors import Factor

Value = float | str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Settings:
    """Values (n, k) of k factors in n runs: natural units, or the index of a categorical level.

    NaN is allowed only where a setting was not recorded; who needs all of them asks
    `is_complete`.
    """

    factors: tuple[Factor, ...]
    values: NDArray[np.float64]

    def __post_init__(self) -> None:
        locked = np.array(self.values, dtype=np.float64, ndmin=2)
        if locked.size == 0:
            locked = locked.reshape(-1, len(self.factors))
        if locked.shape[1] != len(self.factors):
            raise DefinitionError(
                f"{locked.shape[1]} columns of settings for {len(self.factors)} factors.",
                why="Each factor has one column.",
                next_step="Give one value for each factor of the trial in each row.",
            )
        for factor, column in zip(self.factors, locked.T, strict=True):
            if isinstance(factor, Categorical):
                _check_indices(factor, column)
        locked.setflags(write=False)
        object.__setattr__(self, "values", locked)

    def __len__(self) -> int:
        return int(self.values.shape[0])

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the factors, in column order."""
        return tuple(factor.name for factor in self.factors)

    @property
    def is_complete(self) -> bool:
        """Whether every setting of every run is known."""
        return bool(np.isfinite(self.values).all())

    def column(self, name: str) -> NDArray[np.float64]:
        """Return the values (n,) of one factor.

        Raises
        ------
        DefinitionError
            If there is no factor of that name.
        """
        _check_known(self.factors, (name,))
        return self.values[:, self.names.index(name)]

    def rows(self, chosen: NDArray[np.intp] | NDArray[np.bool_]) -> Settings:
        """Return the chosen rows only."""
        return Settings(factors=self.factors, values=self.values[chosen])

    def coded(self) -> NDArray[np.float64]:
        """Return numeric columns coded (low −1, high +1), level indices as they are (n, k)."""
        coded = np.array(self.values)
        for j, factor in enumerate(self.factors):
            if not isinstance(factor, Categorical):
                coded[:, j] = factor.coded(self.values[:, j])
        return coded

    def as_dicts(self) -> list[dict[str, Value]]:
        """Return one mapping a row, factor name to number or level name."""
        return [
            {f.name: _shown(f, v) for f, v in zip(self.factors, row, strict=True)}
            for row in self.values
        ]


def settings(factors: Iterable[Factor], rows: Iterable[Mapping[str, Value]]) -> Settings:
    """Return settings from mappings of factor name to number or level name.

    Raises
    ------
    DefinitionError
        If a row lacks a factor, names one that the trial has not, or an unknown level.
    """
    chosen = tuple(factors)
    values = []
    for row in rows:
        _check_known(chosen, row)
        values.append([_stored(factor, row) for factor in chosen])
    return Settings(factors=chosen, values=np.array(values, dtype=np.float64))


def from_coded(factors: Iterable[Factor], coded: NDArray[np.float64]) -> Settings:
    """Return settings from coded numeric columns and level indices (n, k)."""
    chosen = tuple(factors)
    values = np.array(coded, dtype=np.float64, ndmin=2)
    for j, factor in enumerate(chosen):
        if not isinstance(factor, Categorical):
            values[:, j] = factor.natural(values[:, j])
    return Settings(factors=chosen, values=values)


def _shown(factor: Factor, value: float) -> Value:
    if not isinstance(factor, Categorical):
        return float(value)
    return factor.levels[int(value)] if np.isfinite(value) else ""


def _check_indices(factor: Categorical, column: NDArray[np.float64]) -> None:
    wrong = ~np.isnan(column) & ~np.isin(column, np.arange(len(factor.levels)))
    if wrong.any():
        raise DefinitionError(
            f"{factor.name!r} has no level number {column[wrong][0]:g}.",
            why=f"Its {len(factor.levels)} levels are counted from 0.",
            next_step="Give the index of one of its levels.",
        )


def _check_known(factors: tuple[Factor, ...], asked: Iterable[str]) -> None:
    names = [factor.name for factor in factors]
    for name in asked:
        if name not in names:
            raise DefinitionError(
                f"There is no factor {name!r}.",
                why="Settings are given for the factors of the trial.",
                next_step=f"Use: {', '.join(names)}.",
            )


def _stored(factor: Factor, row: Mapping[str, Value]) -> float:
    if factor.name not in row:
        raise DefinitionError(
            f"No value is given for {factor.name!r}.",
            why="A point needs a setting for every factor.",
            next_step=f"Add {factor.name}=….",
        )
    value = row[factor.name]
    if isinstance(factor, Categorical):
        return float(factor.index(str(value)))
    number = _number(value)
    if number is None or not np.isfinite(number):
        raise DefinitionError(
            f"{value!r} is not a setting of {factor.name!r}.",
            why="That factor is numeric, and a point needs its value.",
            next_step=f"Write a number in {factor.unit or 'its unit'}, with a decimal point.",
        )
    return number


def _number(value: Value) -> float | None:
    if isinstance(value, bool) or (isinstance(value, str) and "_" in value):
        return None  # Python would read True as 1 and 1_0 as 10
    try:
        return float(value)
    except (TypeError, ValueError):
        return None
