"""What a user can do wrong, and what an answer looks like that cannot be had."""

from __future__ import annotations

from dataclasses import dataclass


class WorkbenchError(Exception):
    """A mistake that a user can mend: what was met, why it matters, what to do next.

    Parameters
    ----------
    wrong
        What was met, with its value.
    why
        Why it matters.
    next_step
        What to do instead.
    place
        Where: file, line, row, column, factor or option; empty if the message says it all.
    """

    def __init__(self, wrong: str, *, why: str, next_step: str, place: str = "") -> None:
        super().__init__(wrong)
        self.wrong = wrong
        self.why = why
        self.next_step = next_step
        self.place = place

    def __str__(self) -> str:
        where = f"{self.place}: " if self.place else ""
        return f"{where}{self.wrong} {self.why} {self.next_step}"

    def __reduce__(self) -> tuple[object, ...]:
        # Exceptions with keyword-only arguments do not survive pickling to a worker by default.
        return _rebuild, (type(self), (self.wrong, self.why, self.next_step, self.place))

    def at(self, place: str) -> WorkbenchError:
        """Return the same error with its place put in front of what it had."""
        whole = f"{place}, {self.place}" if self.place else place
        return type(self)(self.wrong, why=self.why, next_step=self.next_step, place=whole)


def _rebuild(kind: type[WorkbenchError], said: tuple[str, str, str, str]) -> WorkbenchError:
    wrong, why, next_step, place = said
    return kind(wrong, why=why, next_step=next_step, place=place)


class DefinitionError(WorkbenchError):
    """A factor, outcome, constraint, term or trial that cannot be."""


class PlanError(WorkbenchError):
    """A plan that was asked for and does not exist, or is weaker than asked."""


class RecordError(WorkbenchError):
    """What was seen cannot be taken as it stands."""


class FitError(WorkbenchError):
    """A model that the question does not allow."""


class DecisionError(WorkbenchError):
    """A window or set point that cannot be asked for in this way."""


class FileError(WorkbenchError):
    """A file or folder that cannot be read or written as asked."""


class OptionError(WorkbenchError):
    """An option of a command or a key of an option that is not understood."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Unavailable:
    """An answer that the runs cannot give, and what would give it."""

    reason: str
