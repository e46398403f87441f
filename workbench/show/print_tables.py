"""A published value beside what is found for it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.show.html_tables import html_table, name, number, words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.show.escape import Html


def print_table(title: str, source: str, rows: Sequence[Sequence[object]]) -> Html:
    """Return a table of name, printed value, found value, digits agreed, within tolerance."""
    columns = [
        name("value"),
        number("printed"),
        number("found"),
        number("digits agreed"),
        words("within its tolerance"),
    ]
    return html_table(f"{title}. {source}", columns, rows)
