"""A finding: something that happened which whoever reads the answers should know."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Kind(StrEnum):
    """What was found; findings stand in this order."""

    MISSING = "missing"
    FAILED = "failed"
    EXCLUDED = "excluded"
    REPEATED = "repeated"
    READ_THOUGH_FAILED = "read though failed"
    NUMBERED_TWICE = "numbered twice"
    ADDED = "added"
    SETTING_UNKNOWN = "setting unknown"
    OUT_OF_ORDER = "out of order"
    PAUSE = "pause"
    OFF_PLAN = "off plan"
    DRIFTED = "drifted"
    RESET_UNSAID = "reset unsaid"
    CHANGED_IN_GROUPS = "changed in groups"
    LOT_CHANGED = "lot changed"
    SORTED = "sorted"
    ZEROS = "zeros"
    ZERO_CONFIRMED = "zero confirmed"
    OUTLIER = "outlier"
    NO_OUTLIER_CHECK = "no outlier check"
    BEYOND_GAUGE = "beyond gauge"
    CUT_OFF = "cut off"
    TOO_FINE = "too fine"
    COARSE = "coarse"
    SAME_READINGS = "same readings"
    CORRECTED = "corrected"
    FILE_GONE = "file gone"
    FILE_CHANGED = "file changed"


class Weight(StrEnum):
    """How much a finding asks of the reader."""

    NOTE = "note"
    ASK = "ask"
    CHECK = "check"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """What was found: in which runs, about which factor or outcome, and what to do.

    `about` and `next_step` are empty where there is none, `runs` where it is the whole trial.
    `weight` is a note, a question to who was there, or something to check before the answers are
    trusted. No finding changes or leaves out anything.
    """

    kind: Kind
    sentence: str
    runs: tuple[int, ...] = ()
    about: str = ""
    next_step: str = ""
    weight: Weight = Weight.NOTE

    @property
    def words(self) -> str:
        """The sentence with the next step behind it."""
        return f"{self.sentence} {self.next_step}".strip()
