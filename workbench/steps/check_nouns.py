"""What a check of a trial folder finds: what must be mended, and what is worth a look."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from workbench.errors import WorkbenchError
    from workbench.run.finding import Finding


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """One thing that a check met: `place` is the file, line or cell; `wrong` what stands there.

    `why` says why it matters, `next_step` what to do; both may be empty in a note.
    """

    place: str
    wrong: str
    why: str = ""
    next_step: str = ""

    def __str__(self) -> str:
        where = f"{self.place}: " if self.place else ""
        return " ".join(
            word for word in (f"{where}{self.wrong}", self.why, self.next_step) if word
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Remarks:
    """What must be `mended` before the trial can be trusted, and `notes` that may stand."""

    mend: tuple[Remark, ...] = ()
    notes: tuple[Remark, ...] = ()

    def __add__(self, other: Remarks) -> Remarks:
        return Remarks(mend=(*self.mend, *other.mend), notes=(*self.notes, *other.notes))


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckUp:
    """A trial folder that was looked through: which files, what was met, what the runs show."""

    folder: Path
    looked_at: tuple[str, ...]
    remarks: Remarks
    happened: tuple[Finding, ...]

    @property
    def is_sound(self) -> bool:
        """Whether nothing must be mended."""
        return not self.remarks.mend


def remark(met: WorkbenchError, *, place: str = "") -> Remark:
    """Return an error as a remark; `place` is the file where the error itself names none."""
    return Remark(place=met.place or place, wrong=met.wrong, why=met.why, next_step=met.next_step)
