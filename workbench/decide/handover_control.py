"""The control plan: what is checked, against which limits, how, and what a miss sets off."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.decide.handover import Checked, ControlRow
from workbench.decide.handover_instruction import SIDES, driven_by
from workbench.decide.handover_words import listed, range_words, required, with_unit
from workbench.decide.limiting import side_in_words
from workbench.define.factors import Role
from workbench.define.outcomes import is_judged

if TYPE_CHECKING:
    from workbench.decide.windows import Limit, Window
    from workbench.define.outcomes import Outcome
    from workbench.define.trial import Trial

HOLD = "Hold the parts made since the last good check."


def control_rows(trial: Trial, window: Window) -> tuple[ControlRow, ...]:
    """Return a row for each setting of the window, then one for each requirement.

    How many parts are checked how often, and how a setting is read, is not in a trial: those
    cells stay empty, for people to fill in.
    """
    settings = [_setting(one) for one in window.limits]
    levels = [_level(name, level) for name, level in window.levels]
    held = [_held(one.name, with_unit(one.value, one.unit)) for one in trial.held]
    judged = [_requirement(one, window) for one in trial.outcomes if is_judged(one)]
    return (*settings, *levels, *held, *judged)


def read_only(trial: Trial) -> tuple[str, ...]:
    """Return the settings that are only read, or vary by themselves."""
    return tuple(one.name for one in trial.factors if one.role in (Role.OBSERVED, Role.NOISE))


def _setting(limit: Limit) -> ControlRow:
    unit = limit.factor.unit
    return ControlRow(
        characteristic=limit.factor.name,
        checked=Checked.SETTING,
        specification=f"{with_unit(limit.set_point, unit)}; {range_words(limit)}",
        method="",
        reaction=f"Put it back to {with_unit(limit.set_point, unit)}. {HOLD} Outside the limits: "
        f"below, {_met(limit.limited_by_low)}; above, {_met(limit.limited_by_high)}.",
    )


def _met(stop: str) -> str:
    """Return what is met beyond an end, where the end of what was tried is no finding."""
    return "not tried or not assured" if stop.startswith("edge of the") or not stop else stop


def _level(name: str, level: str) -> ControlRow:
    return ControlRow(
        characteristic=name,
        checked=Checked.SETTING,
        specification=f"“{level}”, no other",
        method="by eye",
        reaction=f"Change it to “{level}”. {HOLD}",
    )


def _held(name: str, value: str) -> ControlRow:
    return ControlRow(
        characteristic=name,
        checked=Checked.SETTING,
        specification=f"{value}, as in the trial",
        method="",
        reaction=f"Put it back. {HOLD} No other value was tried.",
    )


def _requirement(outcome: Outcome, window: Window) -> ControlRow:
    words = dict.fromkeys(side_in_words(outcome, side) for side in SIDES)
    first = [place for one in words for place in driven_by(window, one)]
    names = dict.fromkeys(
        one.factor.name
        for one in window.limits
        if one.limited_by_low in words or one.limited_by_high in words
    )
    check = (
        f" Check {listed(list(names))} first: this ends the window at {listed(first)}."
        if first
        else " Check every setting against its limits."
    )
    how = "; ".join(one for one in (outcome.method, outcome.wait) if one)
    return ControlRow(
        characteristic=outcome.name,
        checked=Checked.REQUIREMENT,
        specification=required(outcome),
        method=f"{how}{'; destroys the part' if outcome.destructive else ''}".lstrip("; "),
        reaction=f"{HOLD}{check}",
    )
