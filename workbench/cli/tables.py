"""Plain tables for a terminal: words left, numbers right, one rule under the head."""

from __future__ import annotations

from dataclasses import dataclass
from textwrap import fill
from typing import TYPE_CHECKING
from unicodedata import combining, east_asian_width

if TYPE_CHECKING:
    from collections.abc import Sequence

GAP = "  "
PAGE = 96  # columns of running text: the same on every screen and in every file


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Rows of cells under a head; `numbers` are the columns that stand to the right."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: frozenset[int] = frozenset()

    def __str__(self) -> str:
        """Return the table as lines, blank where there are no rows.

        >>> print(Table(head=("effect", "size"), rows=(("dwell", "1.5"),), numbers=frozenset({1})))
        effect  size
        ------  ----
        dwell    1.5
        """
        if not self.rows:
            return ""
        widths = [
            max(_width(row[j]) for row in (self.head, *self.rows)) for j in range(len(self.head))
        ]
        rule = tuple("-" * width for width in widths)
        return "\n".join(self._line(row, widths) for row in (self.head, rule, *self.rows))

    def _line(self, row: Sequence[str], widths: Sequence[int]) -> str:
        cells = []
        for j, (cell, width) in enumerate(zip(row, widths, strict=True)):
            blank = " " * (width - _width(cell))
            cells.append(blank + cell if j in self.numbers else cell + blank)
        return GAP.join(cells).rstrip()


def _width(cell: str) -> int:
    """Return the columns that a terminal gives to the text."""
    return sum(
        0 if combining(sign) else 2 if east_asian_width(sign) in "WF" else 1 for sign in cell
    )


def notes(lines: Sequence[str]) -> str:
    """Return notes as a list, each once, folded to the page; blank where there are none."""
    return "\n".join(folded(f"- {line}", hanging="  ") for line in dict.fromkeys(lines))


def folded(text: str, *, hanging: str = "") -> str:
    """Return a paragraph folded to the width of the page, later lines after `hanging`.

    >>> print(folded("a " * 60))
    a a a a a a a a a a a a a a a a a a a a a a a a a a a a a a a a a a a a a a a a a a a a a a a a
    a a a a a a a a a a a a
    """
    return fill(
        text, PAGE, subsequent_indent=hanging, break_long_words=False, break_on_hyphens=False
    )
