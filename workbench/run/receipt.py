"""The receipt: what was met in a table, and what it was taken to mean."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class ReceiptLine:
    """One assumption: `where` (file, row, column), what was `met`, what was `understood`.

    `sure` is False where another reading is thinkable.
    """

    where: str
    met: str
    understood: str
    sure: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Receipt:
    """Every assumption made on taking a table in, with what came of it."""

    lines: tuple[ReceiptLine, ...]
    n_rows: int
    columns: tuple[str, ...]
