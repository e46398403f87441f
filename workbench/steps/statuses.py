"""The status of a run as people write it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.errors import FileError
from workbench.files.headings import unguarded
from workbench.run.record import Status

if TYPE_CHECKING:
    from workbench.files.raw_table import RawTable

STATUSES = (Status.DONE, Status.FAILED, Status.EXCLUDED, Status.REPEATED)


def statuses_in(table: RawTable, heading: str) -> tuple[Status | None, ...]:
    """Return the status in each cell of a column, None where it says nothing.

    Raises
    ------
    FileError
        If one is no status that a person can give a run.
    """
    return tuple(
        _status(unguarded(cell.text.strip()).casefold(), table, heading, row=row)
        for row, cell in enumerate(table.column(heading))
    )


def _status(word: str, table: RawTable, heading: str, *, row: int) -> Status | None:
    if not word:
        return None
    if word not in (*STATUSES, "ok"):
        raise FileError(
            f"{word!r} is no status of a run.",
            why="Whether a run counts must be plain.",
            next_step=f"Write {', '.join(STATUSES)}, or nothing for a run that is done.",
            place=table.place(row, heading),
        )
    return Status.DONE if word == "ok" else Status(word)
