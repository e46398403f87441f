"""One way to write a table: caption, headed columns, escaped cells, no random ids."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.show.escape import Html, cell, text

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A column's heading; `kind` is "words", "number" (right), "unit" (quiet) or "name" (bold)."""

    head: str
    kind: str = "words"


@dataclass(frozen=True, slots=True, kw_only=True)
class Spanning:
    """A cell that takes the place of several, such as a reason where numbers would stand."""

    words: str
    columns: int


Cell = object
_CLASSES = {"words": "", "number": ' class="n"', "unit": ' class="u"', "name": ""}


def words(head: str) -> Column:
    """Return a column of words, left."""
    return Column(head=head)


def number(head: str) -> Column:
    """Return a column of numbers, right."""
    return Column(head=head, kind="number")


def unit(head: str = "unit") -> Column:
    """Return a column of units, quiet."""
    return Column(head=head, kind="unit")


def name(head: str) -> Column:
    """Return a column whose cells head their rows."""
    return Column(head=head, kind="name")


def html_table(
    caption: str,
    columns: Sequence[Column],
    rows: Iterable[Sequence[Cell]],
    *,
    total: bool = False,
) -> Html:
    """Return an accessible table; `total` sets the last row apart as the sum of the others."""
    lines = list(rows)
    heads = "".join(
        f'<th scope="col"{_CLASSES[column.kind]}>{text(column.head)}</th>' for column in columns
    )
    body = "".join(
        _row(columns, line, is_sum=total and i == len(lines) - 1) for i, line in enumerate(lines)
    )
    return Html(
        f'<div class="scroll"><table class="workbench"><caption>{text(caption)}</caption>'
        f"<thead><tr>{heads}</tr></thead><tbody>{body}</tbody></table></div>"
    )


def verdict(sign: str, said: str) -> Html:
    """Return a verdict as sign and word; `sign` is "meets", "fails" or "unsure"."""
    return Html(f'<span class="v {text(sign)}">{text(said)}</span>')


def _row(columns: Sequence[Column], line: Sequence[Cell], *, is_sum: bool) -> str:
    place, written = 0, []
    for value in line:
        if isinstance(value, Spanning):
            written.append(f'<td class="u" colspan="{value.columns}">{text(value.words)}</td>')
            place += value.columns
            continue
        written.append(_cell(columns[place].kind, value))
        place += 1
    opening = '<tr class="sum">' if is_sum else "<tr>"
    return f"{opening}{''.join(written)}</tr>"


def _cell(kind: str, value: Cell) -> str:
    if kind == "name":
        return f'<th scope="row">{cell(value)}</th>'
    return f"<td{_CLASSES[kind]}>{cell(value)}</td>"
