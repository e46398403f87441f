"""What a row says of its run, and the times at which runs were made."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from workbench.run.receipt import ReceiptLine

if TYPE_CHECKING:
    from workbench.files.entries import Value
    from workbench.files.raw_table import RawTable

MADE = "made at"


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """One thing that a row says of its run: what, the value, and the row (from 0)."""

    run: int
    what: str
    value: Value
    row: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Moments:
    """When runs were made, one for each row that says so, and what was assumed."""

    said: tuple[Said, ...]
    lines: tuple[ReceiptLine, ...]


def moments_in(table: RawTable, heading: str, runs: list[int]) -> Moments:
    """Return when runs were made; a cell that is no date and time stays in the table."""
    if not heading:
        return Moments(said=(), lines=())
    texts = [cell.text.strip() for cell in table.column(heading)]
    moments = [_moment(text) for text in texts]
    unread = [row for row, text in enumerate(texts) if text and not moments[row]]
    line = ReceiptLine(
        where=table.column_place(heading),
        met=f"the heading {heading!r}",
        understood="when each run was made, as the clock at the bench showed"
        + (f"; {len(unread)} cells are no date and time and are left out" if unread else ""),
        sure=not unread,
    )
    said = [
        Said(run=runs[row], what=MADE, value=moment, row=row)
        for row, moment in enumerate(moments)
        if moment
    ]
    return Moments(said=tuple(said), lines=(line,))


def _moment(text: str) -> str:
    """Return a date and time as ISO 8601 to the second, empty if it is none."""
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        return ""
    return found.isoformat(timespec="seconds") if ":" in text else ""
