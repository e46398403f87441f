"""What an outcome's numbers are, by its kind: means, shares that pass, odds, counts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.define.outcomes import Counted, Graded, Measured, PassFail

if TYPE_CHECKING:
    from workbench.define.outcomes import Outcome, Requirement
    from workbench.fit.faces import Fit


ORDINARY = "pass"  # with any other word, the word itself says best what passes


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """What is drawn of an outcome: `mean` in words, its unit, and what it is multiplied by.

    `limits` are those that the mean itself is held against; None where it is a share, on which
    the requirement says nothing.
    """

    mean: str
    unit: str
    times: float
    limits: Requirement | None
    is_log: bool = False


def measure(outcome: Outcome) -> Measure:
    """Return what the mean of an outcome is; shares are drawn in per cent."""
    match outcome:
        case Measured():
            return Measure(
                mean=f"mean {outcome.name}",
                unit=outcome.unit,
                times=1,
                limits=outcome.requirement,
                is_log=outcome.scale == "log",
            )
        case PassFail():
            said = f"share of parts {_passing(outcome)}"
            return Measure(mean=said, unit="%", times=100, limits=None)
        case Graded():
            return _graded(outcome)
        case Counted():
            places = "" if outcome.out_of is None else f", of {outcome.out_of} places"
            unit = "" if outcome.unit.lower() == outcome.name.lower() else outcome.unit
            return Measure(
                mean=f"mean count of {outcome.name}{places}",
                unit=unit,
                times=1,
                limits=outcome.requirement,
            )


def subject(outcome: Outcome) -> str:
    """Return what settings move, in the words of a title: an outcome, or the share that passes."""
    if not isinstance(outcome, PassFail):
        return outcome.name
    if outcome.passes == ORDINARY:
        return f"the share that passes {outcome.name}"
    return f"the share {_passing(outcome)}"


def is_share(outcome: Outcome) -> bool:
    """Return whether the mean of an outcome is a share of parts."""
    return measure(outcome).unit == "%" and not isinstance(outcome, Measured)


def ratio_of(fit: Fit) -> str:
    """Return what the ratios of a fit are ratios of, such as "odds of passing drop test"."""
    outcome = fit.outcome
    match outcome:
        case PassFail():
            if outcome.passes == ORDINARY:
                return f"odds of passing {outcome.name}"
            return f"odds of {outcome.name} “{outcome.passes}”"
        case Graded():
            return f"odds of a higher grade of {outcome.name}"
        case Counted():
            return f"{'count' if outcome.out_of is None else 'odds'} of {outcome.name}"
        case _:
            return outcome.name


def ratio_name(fit: Fit) -> str:
    """Return the name of the ratio: odds ratio, rate ratio, or ratio."""
    match fit.outcome:
        case PassFail() | Graded():
            return "odds ratio"
        case Counted():
            return "rate ratio" if fit.outcome.out_of is None else "odds ratio"
        case _:
            return "ratio"


def ratio_meaning(fit: Fit) -> str:
    """Return what such a ratio means in plain words, with an example in parts; empty if plain."""
    match fit.outcome:
        case PassFail():
            return (
                "Odds ratio: parts that pass for each that fails, compared; ×2 takes 50 of 100 "
                "that pass to 67, and 90 of 100 to 95."
            )
        case Graded():
            last = fit.outcome.grades[-1]
            return (
                "Odds ratio: parts of a higher grade for each of this grade or a lower one, "
                f"compared; above 1 the grades move towards “{last}”."
            )
        case Counted() if fit.outcome.out_of is None:
            return "Rate ratio: ×2 counts twice as many on a part, ÷2 half as many."
        case Counted():
            return (
                "Odds ratio: places counted for each not counted, compared; ×2 takes 50 of 100 "
                "places to 67."
            )
        case _:
            return ""


def _passing(outcome: PassFail) -> str:
    if outcome.passes == ORDINARY:
        return f"that pass {outcome.name}"
    return f"with {outcome.name} “{outcome.passes}”"


def _graded(outcome: Graded) -> Measure:
    asked = outcome.requirement
    if asked is None:
        said = f"mean number of the grade of {outcome.name}"
        return Measure(mean=said, unit="", times=1, limits=None)
    return Measure(
        mean=f"share of parts with {outcome.name} {grades_asked(outcome, asked)}",
        unit="%",
        times=100,
        limits=None,
    )


def grades_asked(outcome: Graded, asked: Requirement) -> str:
    """Return which grades pass, by their names."""
    low = outcome.grades[0 if asked.low is None else int(asked.low)]
    high = outcome.grades[-1 if asked.high is None else int(asked.high)]
    if low == high:
        return low
    if asked.low is None:
        return f"{high} or lower"
    return f"{low} or higher" if asked.high is None else f"{low} to {high}"
