"""Outcomes (ISO 3534-3: response variables) and what they must meet."""

from __future__ import annotations

import math
from dataclasses import dataclass

from workbench.define.units import normal_unit
from workbench.errors import DefinitionError


@dataclass(frozen=True, slots=True, kw_only=True)
class Requirement:
    """Limits on an outcome, in its unit (or as a grade, share or count).

    `low` and `high` are the ends that still pass (None: open); `target` is the value aimed at.
    """

    low: float | None = None
    high: float | None = None
    target: float | None = None

    def __post_init__(self) -> None:
        for name, value in (("low", self.low), ("high", self.high), ("target", self.target)):
            if value is not None and not math.isfinite(value):
                raise DefinitionError(
                    f"The {name} end of a requirement is {value}.",
                    why="A limit must be a number that a reading can be held against.",
                    next_step="Write the number, or leave that end out.",
                )
        if self.low is None and self.high is None:
            raise DefinitionError(
                "A requirement has neither a low nor a high limit.",
                why="Without a limit every part would pass.",
                next_step="State at_least, at_most, between, or a target with its tolerance.",
            )
        if self.low is not None and self.high is not None and self.low >= self.high:
            raise DefinitionError(
                f"The requirement asks for at least {self.low:g} and at most {self.high:g}.",
                why="No part can meet it.",
                next_step="Put the lower limit first.",
            )
        if self.target is not None and not self._passes(self.target):
            raise DefinitionError(
                f"The target {self.target:g} does not meet its own requirement: {self.words()}.",
                why="A part on target would be scrap.",
                next_step="Put the target between the limits.",
            )

    def _passes(self, value: float) -> bool:
        low = -math.inf if self.low is None else self.low
        high = math.inf if self.high is None else self.high
        return low <= value <= high

    def words(self) -> str:
        """Return the requirement in words, without its unit."""
        if self.low is None:
            return f"at most {self.high:g}"
        if self.high is None:
            return f"at least {self.low:g}"
        return f"{self.low:g} to {self.high:g}"


def at_least(limit: float) -> Requirement:
    """Return the requirement that a part reads `limit` or more."""
    return Requirement(low=limit)


def at_most(limit: float) -> Requirement:
    """Return the requirement that a part reads `limit` or less."""
    return Requirement(high=limit)


def between(low: float, high: float) -> Requirement:
    """Return the requirement that a part reads from `low` to `high`, ends included."""
    return Requirement(low=low, high=high)


def target(value: float, *, tolerance: float) -> Requirement:
    """Return the requirement that a part reads within `tolerance` of `value`.

    Raises
    ------
    DefinitionError
        If the tolerance is not above zero.
    """
    if not tolerance > 0:
        raise DefinitionError(
            f"The tolerance on the target {value:g} is {tolerance:g}.",
            why="No reading hits a target exactly.",
            next_step="State how far from the target a part still passes, above zero.",
        )
    return Requirement(low=value - tolerance, high=value + tolerance, target=value)


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """An outcome read as a number with a unit.

    `scale` is "as read", "log", "inverse" or "square root": the scale on which scatter is taken
    to be even. `gauge_low` and `gauge_high` are the ends of what the gauge can read;
    `worth_finding` the smallest difference that matters (on "log" a ratio, such as 1.5);
    `expected_sd` the run-to-run standard deviation assumed when planning (on "log" a ratio too).
    """

    name: str
    unit: str
    requirement: Requirement | None = None
    scale: str = "as read"
    worth_finding: float | None = None
    expected_sd: float | None = None
    method: str = ""
    destructive: bool = False
    gauge_low: float | None = None
    gauge_high: float | None = None
    resolution: float | None = None
    wait: str = ""
    too_low: str = ""
    too_high: str = ""

    def __post_init__(self) -> None:
        _check_name(self.name)
        object.__setattr__(self, "unit", normal_unit(self.unit))
        if self.scale not in SCALES:
            raise DefinitionError(
                f"The scale of {self.name!r} is {self.scale!r}.",
                why="The scale says where scatter is even.",
                next_step=f"Use one of: {', '.join(SCALES)}.",
            )
        _check_sizes(self)
        _check_gauge(self)
        _check_scale(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class PassFail:
    """An outcome that is one of two words; `passes` is the word that a part must have."""

    name: str
    passes: str = "pass"
    fails: str = "fail"
    method: str = ""
    destructive: bool = False
    wait: str = ""

    def __post_init__(self) -> None:
        _check_name(self.name)
        if not self.passes.strip() or not self.fails.strip():
            raise DefinitionError(
                f"Pass and fail of {self.name!r} are written {self.passes!r} and {self.fails!r}.",
                why="An empty word cannot be told from a missing reading.",
                next_step="Use two words.",
            )
        if self.passes == self.fails:
            raise DefinitionError(
                f"Pass and fail of {self.name!r} are both written {self.passes!r}.",
                why="They could not be told apart.",
                next_step="Use two different words.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Graded:
    """An outcome on an ordered scale of named grades, first to last; limits are grade indices."""

    name: str
    grades: tuple[str, ...]
    requirement: Requirement | None = None
    method: str = ""
    destructive: bool = False
    wait: str = ""

    def __post_init__(self) -> None:
        _check_name(self.name)
        if len(self.grades) < 2 or len(set(self.grades)) < len(self.grades):
            raise DefinitionError(
                f"The grades of {self.name!r} are {', '.join(self.grades) or 'none'}.",
                why="A graded outcome needs two or more different grades in order.",
                next_step="List the grades from one end to the other.",
            )
        _check_grades(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """An outcome that is a count of events, on `out_of` places if that is fixed."""

    name: str
    unit: str
    out_of: int | None = None
    requirement: Requirement | None = None
    method: str = ""
    destructive: bool = False
    wait: str = ""

    def __post_init__(self) -> None:
        _check_name(self.name)
        if self.out_of is not None and self.out_of < 1:
            raise DefinitionError(
                f"The out_of of {self.name!r} is {self.out_of}.",
                why="There must be at least one place to count on.",
                next_step="State how many places a part has, or leave out_of away.",
            )
        object.__setattr__(self, "unit", normal_unit(self.unit))
        most = math.inf if self.out_of is None else self.out_of
        _check_reachable(self.name, self.requirement, (0, most))


def is_judged(outcome: Outcome) -> bool:
    """Return whether parts are judged by an outcome: it has a requirement, or is pass or fail."""
    return isinstance(outcome, PassFail) or outcome.requirement is not None


SCALES = ("as read", "log", "square root", "inverse")
Outcome = Measured | PassFail | Graded | Counted


def _check_name(name: str) -> None:
    if not name.strip() or name != name.strip():
        raise DefinitionError(
            f"The outcome name {name!r} is empty or has blanks at its ends.",
            why="Names are how outcomes are found in tables and on sheets.",
            next_step="Give it a name without blanks before or after.",
        )


def _check_sizes(outcome: Measured) -> None:
    floor = 1.0 if outcome.scale == "log" else 0.0
    for key, value in (
        ("worth_finding", outcome.worth_finding),
        ("expected_sd", outcome.expected_sd),
    ):
        if value is not None and not (math.isfinite(value) and value > floor):
            raise DefinitionError(
                f"The {key} of {outcome.name!r} is {value:g}.",
                why="On a log scale it is a ratio above 1; otherwise a size above 0.",
                next_step="Write such a number, or leave it out.",
            )
    size = outcome.resolution
    if size is not None and not (math.isfinite(size) and size > 0):
        raise DefinitionError(
            f"The resolution of {outcome.name!r} is {size:g}.",
            why="It is the smallest step that the gauge shows.",
            next_step="Write a number above zero, or leave it out.",
        )


def _check_gauge(outcome: Measured) -> None:
    low, high = outcome.gauge_low, outcome.gauge_high
    for key, value in (("gauge_low", low), ("gauge_high", high)):
        if value is not None and not math.isfinite(value):
            raise DefinitionError(
                f"The {key} of {outcome.name!r} is {value:g}.",
                why="A gauge ends at a number.",
                next_step="Write that number, or leave it out if no reading will come near it.",
            )
    if low is not None and high is not None and low >= high:
        raise DefinitionError(
            f"The gauge of {outcome.name!r} reads from gauge_low {low:g} to gauge_high {high:g}.",
            why="Such a gauge reads nothing.",
            next_step="Exchange the two.",
        )
    span = (-math.inf if low is None else low, math.inf if high is None else high)
    _check_reachable(outcome.name, outcome.requirement, span)


def _check_reachable(
    name: str, requirement: Requirement | None, span: tuple[float, float]
) -> None:
    if requirement is None:
        return
    low = -math.inf if requirement.low is None else requirement.low
    high = math.inf if requirement.high is None else requirement.high
    if low > span[1] or high < span[0]:
        raise DefinitionError(
            f"{name!r} must be {requirement.words()}, but is only read from {span[0]:g} to "
            f"{span[1]:g}.",
            why="No part could be shown to meet it.",
            next_step="Correct the limit, or use a way of reading that covers it.",
        )


def _check_scale(outcome: Measured) -> None:
    if outcome.scale == "as read" or outcome.requirement is None:
        return
    limits = (outcome.requirement.low, outcome.requirement.high, outcome.requirement.target)
    zero_counts = outcome.scale == "square root"
    for limit in limits:
        if limit is not None and (limit < 0 or (limit == 0 and not zero_counts)):
            raise DefinitionError(
                f"The requirement of {outcome.name!r} names {limit:g}, on the {outcome.scale} "
                "scale.",
                why="That scale exists for values above zero only.",
                next_step='Set scale = "as read", or a limit above zero.',
            )


def _check_grades(outcome: Graded) -> None:
    if any(not grade.strip() for grade in outcome.grades):
        raise DefinitionError(
            f"A grade of {outcome.name!r} has an empty name.",
            why="It cannot be told from a missing reading.",
            next_step="Name every grade.",
        )
    if outcome.requirement is None:
        return
    limits = (outcome.requirement.low, outcome.requirement.high, outcome.requirement.target)
    for limit in limits:
        if limit is not None and limit not in range(len(outcome.grades)):
            raise DefinitionError(
                f"The requirement of {outcome.name!r} names grade number {limit:g}.",
                why=f"Its {len(outcome.grades)} grades are counted from 0.",
                next_step=f"Use one of the grades {', '.join(outcome.grades)}.",
            )
