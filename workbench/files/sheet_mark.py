"""What tells our own workbook from another: the plan it was written for, on a hidden sheet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from workbench.files.grid import Grid

RUNS = "runs"
BEFORE = "cautions"
HIDDEN = "workbench"
PLAN = "plan"
COMPUTED = "computed"  # headings of columns that hold formulas of ours, to be ignored on reading
MADE_AT = "made at"
WHO = "who"
SHORT_DIGEST = 8  # digits
_ROWS_AT_MOST = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetMark:
    """The digest of the plan that a workbook was written for, and headings of our formulas."""

    plan: str
    computed: tuple[str, ...]


def testable_from(outcome: str) -> str:
    """Return the heading over the times from which an outcome can be tested."""
    return f"test {outcome} from"


def mark_in(hidden: Grid) -> SheetMark | None:
    """Return the mark on the hidden sheet of a run sheet of ours, None if it holds none."""
    rows = [row for row in hidden.texts[:_ROWS_AT_MOST] if len(row) > 1]
    plan = [row[1] for row in rows if row[0] == PLAN]
    if not plan:
        return None
    return SheetMark(plan=plan[0], computed=tuple(row[1] for row in rows if row[0] == COMPUTED))


def short_digest(digest: str) -> str:
    """Return the first digits of a digest, as a footer or a message shows them."""
    return digest.removeprefix("sha256:")[:SHORT_DIGEST]
