"""Keep what a meeting decided, and what it left open, in decisions.toml."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.errors import OptionError
from workbench.files.decisions import (
    DecisionEntry,
    QuestionEntry,
    add_decision,
    add_question,
    read_decisions,
    read_questions,
)
from workbench.steps.people import now, who_is_it
from workbench.steps.trials import check_is_trial

if TYPE_CHECKING:
    from pathlib import Path

MOST_LETTERS = 2000  # of one entry: a sentence or a few, not the minutes


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenQuestion:
    """A question without an answer, and its `number` among all that were ever asked."""

    number: int
    entry: QuestionEntry


@dataclass(frozen=True, slots=True, kw_only=True)
class Decisions:
    """What a trial has decided, oldest first, and which questions are open."""

    decided: tuple[DecisionEntry, ...]
    open: tuple[OpenQuestion, ...]


def decisions_of(folder: Path) -> Decisions:
    """Return what was decided in a trial and what is open.

    Raises
    ------
    FileError
        If decisions.toml cannot be understood.
    """
    decided = read_decisions(folder)
    settled = {one.answers for one in decided if one.answers}
    asked = enumerate(read_questions(folder), start=1)
    return Decisions(
        decided=decided,
        open=tuple(OpenQuestion(number=i, entry=q) for i, q in asked if q.what not in settled),
    )


def keep_decision(
    folder: Path, text: str, *, reason: str = "", by: str = "", answers: int | None = None
) -> Decisions:
    """Keep a decision, `answers` the number of the question that it settles; return all of them.

    Raises
    ------
    WorkbenchError
        If the folder is no trial, the text cannot be kept, no such question is open, or
        decisions.toml cannot be understood or written.
    """
    check_is_trial(folder)
    entry = DecisionEntry(
        what=_worded(text, "TEXT"),
        reason=_worded(reason, "--reason") if reason else "",
        by=_worded(who_is_it(by), "--by"),
        at=now(),
        answers="" if answers is None else _question(folder, answers),
    )
    add_decision(folder, entry)
    return decisions_of(folder)


def keep_question(folder: Path, text: str, *, reason: str = "", by: str = "") -> Decisions:
    """Keep a question that is left open, and return all decisions and open questions.

    Raises
    ------
    WorkbenchError
        If the folder is no trial, the text cannot be kept or was asked before, or
        decisions.toml cannot be understood or written.
    """
    check_is_trial(folder)
    what = _worded(text, "TEXT")
    if any(one.what == what for one in read_questions(folder)):
        raise OptionError(
            f"The question “{what}” was asked before.",
            why="An answer names its question word for word, so each is kept once.",
            next_step="Answer it with --answers and its number, or ask it in other words.",
            place="TEXT",
        )
    why = _worded(reason, "--reason") if reason else ""
    entry = QuestionEntry(what=what, reason=why, by=_worded(who_is_it(by), "--by"), at=now())
    add_question(folder, entry)
    return decisions_of(folder)


def _question(folder: Path, number: int) -> str:
    still = decisions_of(folder).open
    for one in still:
        if one.number == number:
            return one.entry.what
    numbers = ", ".join(f"{one.number} ({one.entry.what})" for one in still)
    raise OptionError(
        f"No question {number} is open.",
        why="A decision can only answer a question that was asked and has no answer yet.",
        next_step=f"Open are: {numbers}." if still else "Leave --answers out: none is open.",
        place="--answers",
    )


def _worded(text: str, place: str) -> str:
    words = " ".join(text.split())
    if words and words.isprintable() and len(words) <= MOST_LETTERS:
        return words
    wrong = (
        f"The text has {len(words)} letters."
        if len(words) > MOST_LETTERS
        else "The text is empty."
        if not words
        else "The text holds signs that are no letters."
    )
    raise OptionError(
        wrong,
        why="It is read out of decisions.toml and the report by people.",
        next_step=f"Say it in a sentence or a few, at most {MOST_LETTERS} letters.",
        place=place,
    )
