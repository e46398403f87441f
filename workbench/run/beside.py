"""What is kept beside the readings: files of a run, values replaced or looked at again."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class FileState(StrEnum):
    """What became of an attached file since it was attached."""

    UNCHANGED = "unchanged"
    CHANGED = "changed"
    MISSING = "missing"
    NOT_LOOKED_AT = "not looked at"


@dataclass(frozen=True, slots=True, kw_only=True)
class Attached:
    """A photo or file of a run: its path inside the trial folder, and what became of it.

    `part` is 0 and `outcome` empty where it belongs to the whole run.
    """

    run: int
    path: str
    note: str = ""
    state: FileState = FileState.NOT_LOOKED_AT
    part: int = 0
    outcome: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Confirmed:
    """A reading that looks odd and is true: who looked again, when (UTC, ISO 8601), and why."""

    run: int
    part: int
    reading: int
    outcome: str
    who: str
    when: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """A value that a later entry replaced: in words, by whom, when (UTC, ISO 8601) and why.

    `about` is the factor or outcome (or "block", "status" and so on), `thing` what of it in
    words, such as "pull, part 2"; `reason` is empty where nobody gave one.
    """

    run: int
    about: str
    thing: str
    before: str
    after: str
    who: str
    when: str
    reason: str = ""
