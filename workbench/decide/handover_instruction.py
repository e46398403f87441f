"""The work instruction: set, keep, do, look for, stop if."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.decide.handover import LookLine, SetLine, WorkInstruction
from workbench.decide.handover_words import listed, with_unit
from workbench.decide.limiting import side_in_words
from workbench.define.factors import Categorical, Role, Stepped
from workbench.define.outcomes import Graded, PassFail, is_judged

if TYPE_CHECKING:
    from collections.abc import Iterator

    from workbench.decide.windows import Limit, Window
    from workbench.define.factors import Factor
    from workbench.define.outcomes import Outcome, Requirement
    from workbench.define.trial import Trial

SIDES = (-1, 1)


def work_instruction(trial: Trial, window: Window) -> WorkInstruction:
    """Return the page for the bench, from what the trial says and what the window holds."""
    return WorkInstruction(
        settings=set_lines(window),
        keep=tuple(f"{one.name} {with_unit(one.value, one.unit)}" for one in trial.held),
        do=tuple(_do(trial, window)),
        look_for=look_lines(trial, window),
        stop_if=tuple(_stop_if(trial, window)),
    )


def set_lines(window: Window) -> tuple[SetLine, ...]:
    """Return a line for each setting of the window, levels last."""
    ranges = [
        SetLine(
            name=one.factor.name,
            unit=one.factor.unit,
            set_to=one.set_point,
            low=one.low,
            high=one.high,
            steps=_steps(one),
            holds=getattr(one.factor, "setting_sd", None),
            below_low=one.limited_by_low,
            above_high=one.limited_by_high,
        )
        for one in window.limits
    ]
    levels = [SetLine(name=name, unit="", set_to=level) for name, level in window.levels]
    return (*ranges, *levels)


def look_lines(trial: Trial, window: Window) -> tuple[LookLine, ...]:
    """Return a line for each way in which a part can fail a requirement."""
    return tuple(line for one in trial.outcomes if is_judged(one) for line in _look(one, window))


def driven_by(window: Window, words: str) -> tuple[str, ...]:
    """Return the sides of the window that end because of one failing side, in words."""
    found = []
    for one in window.limits:
        if one.limited_by_low == words:
            found.append(f"{one.factor.name} below {with_unit(one.low, one.factor.unit)}")
        if one.limited_by_high == words:
            found.append(f"{one.factor.name} above {with_unit(one.high, one.factor.unit)}")
    return tuple(found)


def _steps(limit: Limit) -> tuple[float, ...]:
    if not isinstance(limit.factor, Stepped):
        return ()
    return tuple(one for one in limit.factor.steps if limit.low <= one <= limit.high)


def _look(outcome: Outcome, window: Window) -> Iterator[LookLine]:
    if isinstance(outcome, PassFail):
        words = side_in_words(outcome, 1)
        yield LookLine(
            sign=words, reading=outcome.method or outcome.name, comes_with=driven_by(window, words)
        )
        return
    limits = outcome.requirement
    for side in SIDES:
        if limits is None or (limits.low if side < 0 else limits.high) is None:
            continue
        driven = driven_by(window, side_in_words(outcome, side))
        if isinstance(outcome, Graded):
            sign = f"{outcome.name} {_bad_grades(outcome, limits, side)}"
            yield LookLine(sign=sign, reading=outcome.method or outcome.name, comes_with=driven)
            continue
        where, limit = ("below", limits.low) if side < 0 else ("above", limits.high)
        yield LookLine(
            sign=getattr(outcome, "too_low" if side < 0 else "too_high", ""),
            reading=f"{outcome.name} {where} {with_unit(limit or 0.0, outcome.unit)}",
            comes_with=driven,
        )


def _bad_grades(outcome: Graded, limits: Requirement, side: int) -> str:
    low = 0 if limits.low is None else int(limits.low)
    high = len(outcome.grades) - 1 if limits.high is None else int(limits.high)
    bad = outcome.grades[:low] if side < 0 else outcome.grades[high + 1 :]
    return " or ".join(f"“{one}”" for one in bad)


def _do(trial: Trial, window: Window) -> Iterator[str]:
    slow = [one.name for one in trial.factors if one.slow and one.role is Role.CONTROL]
    if slow:
        yield f"Set {listed(slow)} first: slow to change. Wait until it reads steady."
    names = [one.factor.name for one in window.limits] + [name for name, _ in window.levels]
    yield (
        f"Set {listed([one for one in names if one not in slow] or names)} to the set point; "
        "read back every setting before the first part."
    )
    for factor in trial.factors:
        yield from _not_set(factor)
    for wait in dict.fromkeys(one.wait for one in trial.outcomes if one.wait):
        tested = [one.name for one in trial.outcomes if one.wait == wait]
        yield f"Test {listed(tested)} {wait}."
    broken = [one.name for one in trial.outcomes if one.destructive]
    if broken:
        yield f"Test {listed(broken)} last: it destroys the part."


def _not_set(factor: Factor) -> Iterator[str]:
    if factor.role is Role.OBSERVED:
        yield f"Read {factor.name} and write it down; it is not set."
    if factor.role is not Role.NOISE or isinstance(factor, Categorical):
        return
    spread = factor.spread
    if spread is not None:
        width = "standard deviation" if spread.shape == "normal" else "half-width"
        yield (
            f"Leave {factor.name} as it comes: counted with at "
            f"{with_unit(spread.centre, factor.unit)}, {width} "
            f"{with_unit(spread.width, factor.unit)}."
        )


def _stop_if(trial: Trial, window: Window) -> Iterator[str]:
    yield "A setting cannot be kept between its low and its high."
    misses = round(100 * (1 - window.share), 6)
    yield (
        f"More parts of a check miss a requirement than quality allows: ____ of ____ (the promise "
        f"itself leaves room for up to {misses:g} in 100)."
    )
    if trial.stopping_rule.strip():
        yield f"Rule of the trial: {trial.stopping_rule.strip()}"
    yield "Anything looks, smells or sounds wrong: say what."
