"""What the record panel shows and what it takes: columns, rows, cells, edits and their answers."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelColumn:
    """One column to fill in; `key` is its heading in a table that is taken in.

    `kind` is "setting", "reset", "reading", "status", "moment" or "text". `choices` are words
    that one tap enters (grades, pass and fail, the ends of the gauge), `hint` says what to write.
    """

    key: str
    label: str
    unit: str
    kind: str
    choices: tuple[str, ...] = ()
    hint: str = ""
    is_number: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelCell:
    """One cell as the journal has it now.

    `text` is what was entered, `planned` the planned setting ("" where none is), `is_new` whether
    the setting changes from the run before, `flag` the weight of what was found about it ("" if
    nothing), `said` the words of it. Nothing can be entered where `is_closed`.
    """

    text: str = ""
    planned: str = ""
    is_new: bool = False
    flag: str = ""
    said: str = ""
    is_closed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelTimer:
    """A wait at the bench, from a setting of the run (a dwell) or after the run (a cure)."""

    name: str
    words: str
    seconds: float
    after_run: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelRow:
    """One run: its number, what stands above it once a block or setup begins, and its cells."""

    run: int
    status: str
    lead: str
    block_label: str
    asks_block: bool
    made_at: str
    cells: tuple[PanelCell, ...]
    timers: tuple[PanelTimer, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelFinding:
    """What was found: weight, sentence, what to do, and the runs it is about."""

    weight: str
    sentence: str
    next_step: str
    runs: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelCaution:
    """A caution in view: a title ("" for the team's own words) and its text."""

    title: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordSheet:
    """All that the record panel shows, as the folder holds it now.

    `problem` is what keeps the journal from being read as it stands ("" if nothing does).
    """

    title: str
    invented: str
    columns: tuple[PanelColumn, ...]
    rows: tuple[PanelRow, ...]
    next_run: int
    n_made: int
    findings: tuple[PanelFinding, ...]
    notes: tuple[str, ...]
    cautions: tuple[PanelCaution, ...]
    deferral: str
    held: str
    stop_rule: str
    problem: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Edit:
    """What was typed into one cell."""

    run: int
    column: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EditAnswer:
    """What became of an edit.

    `outcome` is "entered" (on the disk), "known" (says nothing new), "ask" (needs a reason first)
    or "wrong" (cannot be entered); `words` say what and why.
    """

    run: int
    column: str
    outcome: str
    words: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class EditAnswers:
    """The answers to edits made at once, and what is to be said of the table beside them."""

    answers: tuple[EditAnswer, ...]
    notes: tuple[str, ...] = ()
