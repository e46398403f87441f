"""Many entries about one thing to what holds now: corrections, agreement, conflicts."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Generic, TypeVar

from workbench.errors import RecordError

if TYPE_CHECKING:
    from collections.abc import Hashable

    from workbench.files.journal import Stamped

Said = TypeVar("Said", bound="Hashable")


@dataclass(slots=True)
class Claims(Generic[Said]):
    """What each writer last said of one thing, in the order of the journal.

    A writer's later entry replaces an earlier one of the same writer. One that settles replaces
    what its author had seen of the others' entries, wherever their clocks put them; what was
    entered unseen stands against it until somebody settles it again.
    """

    last: dict[str, tuple[Stamped, Said]] = field(default_factory=dict)
    settled: dict[str, int] = field(default_factory=dict)

    def add(self, stamped: Stamped, said: Said, *, settles: bool) -> None:
        """Take in one entry."""
        if settles:
            self._settle(stamped)
        if self.last and stamped.sequence <= self.settled.get(stamped.writer, 0):
            return
        self.last.pop(stamped.writer, None)
        self.last[stamped.writer] = (stamped, said)

    def _settle(self, stamped: Stamped) -> None:
        if stamped.seen is None:  # an older line, which does not say: all that came before
            self.last.clear()
            return
        for writer, sequence in stamped.seen:
            self.settled[writer] = max(sequence, self.settled.get(writer, 0))
        self.last = {
            writer: claim
            for writer, claim in self.last.items()
            if claim[0].sequence > self.settled.get(writer, 0)
        }

    @property
    def latest(self) -> tuple[Stamped, Said]:
        """The latest entry and what it says, whatever others say."""
        return list(self.last.values())[-1]

    def agreed(self, thing: str) -> tuple[Stamped, Said]:
        """Return the latest entry and what it says.

        Raises
        ------
        RecordError
            If two writers say different things.
        """
        claims = list(self.last.values())
        latest, said = claims[-1]
        for other, differing in claims[:-1]:
            if differing != said:
                raise RecordError(
                    f"{thing}: {other.who} ({other.writer}) entered {_shown(differing)}, "
                    f"{latest.who} ({latest.writer}) {_shown(said)}.",
                    why="Both cannot be right, and the workbench does not choose.",
                    next_step="Take a table with the right value that settles it: "
                    "`workbench take DIR TABLE --settle`.",
                    place="results",
                )
        return latest, said


def _shown(said: Hashable) -> str:
    if isinstance(said, tuple):
        value, mark = said
        return f"{('<', '', '>')[mark + 1]}{value:g}"
    return f"{said:g}" if isinstance(said, float) else repr(said)
