"""Findings on what happened as a table: what to check, what to answer, in which runs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.run.finding import Weight
from workbench.show.escape import Html, text
from workbench.show.html_tables import html_table, verdict, words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.run.finding import Finding
    from workbench.show.html_tables import Cell

_SIGNS = {
    Weight.CHECK: ("unsure", "please check"),
    Weight.ASK: ("unsure", "please answer"),
    Weight.NOTE: ("meets", "noted"),
}


def findings_table(caption: str, findings: Sequence[Finding], *, note: str = "") -> Html:
    """Return one row a finding; `note` stands below, such as the rule behind some of them."""
    columns = [words("asks"), words("found"), words("what to do")]
    table = html_table(caption, columns, [_row(one) for one in findings])
    return Html(f'{table}<p class="u">{text(note)}</p>') if note else table


def _row(one: Finding) -> tuple[Cell, ...]:
    return (verdict(*_SIGNS[one.weight]), one.sentence, one.next_step)
