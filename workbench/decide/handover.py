"""The hand-over: what a line is told to set, what is checked, and what the limits rest on."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from workbench.decide.windows import Window
    from workbench.define.settings import Value
    from workbench.define.trial import Trial


class Proof(StrEnum):
    """Whether a confirmation stands behind the window that is handed over."""

    CONFIRMED = "confirmed"
    OPEN = "not confirmed: too few parts to say"
    OTHER = "not confirmed: what was confirmed is not this window"
    CHANGED = "not confirmed: what the confirmation rests on was changed since"
    NONE = "not confirmed: no confirmation has been judged"

    @property
    def is_confirmed(self) -> bool:
        """Whether the limits may be said to be confirmed."""
        return self is Proof.CONFIRMED


@dataclass(frozen=True, slots=True, kw_only=True)
class SetLine:
    """What is set: the set point, and the ends between which the promise holds, in the unit.

    `low` and `high` are None for a level that is chosen by its name. `steps` are the only values
    that the bench can set (empty: the trial does not say how finely it can be set). `holds` is
    the standard deviation with which the line holds a set value (None: not stated).
    `below_low` and `above_high` say what is met beyond each end.
    """

    name: str
    unit: str
    set_to: Value
    low: float | None = None
    high: float | None = None
    steps: tuple[float, ...] = ()
    holds: float | None = None
    below_low: str = ""
    above_high: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LookLine:
    """One way in which a part fails: how it looks, how it reads, and which settings drive it.

    `sign` is in the line's own words (empty if nobody wrote any); `comes_with` names the sides
    of the window that this failure ends.
    """

    sign: str
    reading: str
    comes_with: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkInstruction:
    """One page for the bench; each of `do` and `stop_if` is a whole sentence."""

    settings: tuple[SetLine, ...]
    keep: tuple[str, ...]
    do: tuple[str, ...]
    look_for: tuple[LookLine, ...]
    stop_if: tuple[str, ...]


class Checked(StrEnum):
    """What a row of the control plan checks."""

    SETTING = "setting"
    REQUIREMENT = "requirement"


@dataclass(frozen=True, slots=True, kw_only=True)
class ControlRow:
    """One characteristic of the control plan.

    `method`, `sample` and `frequency` are empty where the trial does not know them: they are
    for people to fill in.
    """

    characteristic: str
    checked: Checked
    specification: str
    method: str
    reaction: str
    sample: str = ""
    frequency: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Assured:
    """Share of new parts that meet one requirement, or all of them where `outcome` is empty.

    `chance` holds at the set point; `lowest` is assured at the worst place of the window.
    """

    outcome: str
    requirement: str
    chance: float
    lowest: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """One thing that the hand-over rests on: what, and what was found."""

    what: str
    found: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Chapter:
    """Facts of one kind, in order; `says` is what to know of all of them."""

    title: str
    facts: tuple[Fact, ...]
    says: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class HandOver:
    """What goes to the line: an instruction, a control plan, and the evidence for both.

    `promise` says in a sentence what the window is to keep, `standing` whether that was shown.
    `evidence` are chapters of facts, `not_tested` sentences, `written` when and by which version
    this was put together. Whoever releases it signs by hand.
    """

    trial: Trial
    window: Window
    proof: Proof
    promise: str
    standing: str
    instruction: WorkInstruction
    control: tuple[ControlRow, ...]
    assured: tuple[Assured, ...]
    evidence: tuple[Chapter, ...]
    not_tested: tuple[str, ...]
    written: str
