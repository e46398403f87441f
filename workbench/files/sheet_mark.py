"""What tells our own workbook from another: the plan it was written for, on a hidden sheet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from openpyxl.workbook.workbook import Workbook

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


def mark_in(book: Workbook) -> SheetMark | None:
    """Return the mark of a run sheet of ours, None for any other workbook."""
    if not {RUNS, HIDDEN} <= {one.title for one in book.worksheets}:
        return None
    rows = book[HIDDEN].iter_rows(max_row=_ROWS_AT_MOST, max_col=2, values_only=True)
    said = [(str(key), str(value)) for key, value in rows if key is not None]
    plan = [value for key, value in said if key == PLAN]
    if not plan:
        return None
    return SheetMark(plan=plan[0], computed=tuple(value for key, value in said if key == COMPUTED))


def short_digest(digest: str) -> str:
    """Return the first digits of a digest, as a footer or a message shows them."""
    return digest.removeprefix("sha256:")[:SHORT_DIGEST]
