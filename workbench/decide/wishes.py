"""What is wished of a box: which factors are held, how far others may go, what its size counts."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING

from workbench.define.factors import Categorical, Role, Stepped
from workbench.errors import DecisionError

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from workbench.define.factors import Factor, Numeric
    from workbench.define.settings import Value

IN_RANGE, IN_SETTING_ERROR = "range", "setting error"


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxWish:
    """Wishes by factor name; empty where nothing is wished.

    `held` factors stand at one value or level and are no side of the box; `within` are the lowest
    and highest value that a side may take; `weights` are powers of the sides in the size, 1 if
    not named. `size_in` is the unit of a side: its factor's range or its setting error.
    """

    held: tuple[tuple[str, Value], ...] = ()
    within: tuple[tuple[str, float, float], ...] = ()
    weights: tuple[tuple[str, float], ...] = ()
    size_in: str = IN_RANGE

    def held_at(self, name: str) -> Value | None:
        """Return where a factor is held, or None."""
        return dict(self.held).get(name)

    def ends(self, factor: Numeric) -> tuple[float, float]:
        """Return the lowest and highest value that a side may take."""
        for name, low, high in self.within:
            if name == factor.name:
                return low, high
        return factor.low, factor.high

    def weight(self, name: str) -> float:
        """Return the power of a side in the size."""
        return dict(self.weights).get(name, 1.0)


def wished(
    *,
    held: Mapping[str, Value] | None = None,
    within: Mapping[str, tuple[float, float]] | None = None,
    weights: Mapping[str, float] | None = None,
    size_in: str = IN_RANGE,
) -> BoxWish:
    """Return the wishes as one noun."""
    return BoxWish(
        held=tuple((held or {}).items()),
        within=tuple((name, *ends) for name, ends in (within or {}).items()),
        weights=tuple((weights or {}).items()),
        size_in=size_in,
    )


def check_wish(wish: BoxWish, factors: tuple[Factor, ...]) -> None:
    """Refuse wishes that cannot be met whatever the runs say.

    Raises
    ------
    DecisionError
        If a name is unknown or no setting of the line, a value lies outside the trial's range, a
        weight is below zero, or a size in setting errors meets a factor without one.
    """
    names = [*_names(wish.held), *_names(wish.within), *_names(wish.weights)]
    for name in names:
        _set_by_line(name, factors)
    for name, value in wish.held:
        _check_held(_set_by_line(name, factors), value)
    for name, low, high in wish.within:
        _check_within(_set_by_line(name, factors), low, high)
    for name, weight in wish.weights:
        _check_weight(name, weight)
    _check_unit(wish, factors)


def _names(pairs: Iterable[tuple[object, ...]]) -> list[str]:
    return [str(one[0]) for one in pairs]


def _set_by_line(name: str, factors: tuple[Factor, ...]) -> Factor:
    settable = [one for one in factors if one.role is Role.CONTROL]
    for one in settable:
        if one.name == name:
            return one
    raise DecisionError(
        f"{name!r} is not a factor that the line sets.",
        why="Only such factors can be held, limited or weighed in a window.",
        next_step=f"Name one of: {', '.join(one.name for one in settable)}.",
    )


def _check_held(factor: Factor, value: Value) -> None:
    if isinstance(factor, Categorical):
        factor.index(str(value))
        return
    number = _number(value)
    possible = number is not None and factor.low <= number <= factor.high
    if possible and isinstance(factor, Stepped):
        possible = number in factor.steps
    if not possible:
        raise DecisionError(
            f"{factor.name} cannot be held at {value}.",
            why=f"It was planned from {factor.low:g} to {factor.high:g} {factor.unit}".rstrip()
            + (
                f", in steps {', '.join(f'{s:g}' for s in factor.steps)}."
                if isinstance(factor, Stepped)
                else "; beyond that nothing was tried."
            ),
            next_step="Hold it at a value that was tried.",
        )


def _number(value: Value) -> float | None:
    try:
        number = float(value)
    except ValueError:
        return None
    return number if isfinite(number) else None


def _check_within(factor: Factor, low: float, high: float) -> None:
    if isinstance(factor, Categorical):
        raise DecisionError(
            f"{factor.name} has levels, not a range.",
            why="Only a numeric factor can be kept within two values.",
            next_step="Hold it at one of its levels instead.",
        )
    if not factor.low <= low < high <= factor.high:
        unit = f" {factor.unit}" if factor.unit else ""
        raise DecisionError(
            f"{factor.name} cannot be kept within {low:g} and {high:g}{unit}.",
            why=f"The range goes upwards and lies in what was planned, {factor.low:g} to "
            f"{factor.high:g}{unit}.",
            next_step="State a range that was tried, the lower end first.",
        )


def _check_weight(name: str, weight: float) -> None:
    if not (isfinite(weight) and weight >= 0):
        raise DecisionError(
            f"The weight of {name} is {weight:g}.",
            why="A weight is the power of the factor's side in the size of the window.",
            next_step="Write a number from 0 upwards; 1 is usual, 2 counts a factor twice.",
        )


def _check_unit(wish: BoxWish, factors: tuple[Factor, ...]) -> None:
    if wish.size_in not in (IN_RANGE, IN_SETTING_ERROR):
        raise DecisionError(
            f"A size in {wish.size_in!r} is not known.",
            why="The sides of a window are compared in one unit.",
            next_step=f'Write "{IN_RANGE}" or "{IN_SETTING_ERROR}".',
        )
    if wish.size_in == IN_RANGE:
        return
    exact = [
        one.name
        for one in factors
        if not isinstance(one, Categorical)
        and one.role is Role.CONTROL
        and wish.held_at(one.name) is None
        and not one.setting_sd
    ]
    if exact:
        raise DecisionError(
            f"No setting error above zero is stated for {', '.join(exact)}.",
            why="The size of the window was asked in setting errors, so each side needs one.",
            next_step='Write its setting_sd in trial.toml, or ask for the size in "range".',
        )
