"""The evidence page of a hand-over: what the limits rest on, and what nobody tested."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.show.escape import Html, text
from workbench.show.html_tables import html_table, name, number, verdict, words
from workbench.show.numbers import chance, percent
from workbench.show.style import MARK

if TYPE_CHECKING:
    from workbench.decide.handover import Assured, Chapter, HandOver
    from workbench.decide.windows import Window


def evidence_leaf(made: HandOver) -> Html:
    """Return the page that says what the limits rest on."""
    first, *rest = made.evidence
    gaps = "".join(f'<p class="gap">{text(one)}</p>' for one in made.not_tested)
    return Html(
        f'<section class="leaf"><div class="foot top"><span>{MARK}</span>'
        f"<span>{text(made.written)}</span></div><h2>Evidence</h2>"
        f"{_chapter(first, is_loud=not made.proof.is_confirmed)}"
        f"<h3>What the window promises for a new part</h3>{_assured(made)}"
        f"{''.join(_chapter(one) for one in rest)}<h3>Not tested</h3>{gaps}</section>"
    )


def _assured(made: HandOver) -> Html:
    columns = [
        name("requirement"),
        words("limit"),
        number("chance at set point"),
        number("lowest in the window"),
        words("verdict of the trial"),
    ]
    rows = [_row(one, made.window) for one in made.assured]
    return html_table("", columns, rows, total=True)


def _row(one: Assured, window: Window) -> tuple[object, ...]:
    holds = one.lowest >= window.share
    said = "assured" if one.outcome else f"{percent(window.share)} asked"
    return (
        one.outcome or "all together",
        one.requirement,
        chance(one.chance),
        chance(one.lowest),
        verdict("meets", said) if holds else verdict("unsure", "below the share asked"),
    )


def _chapter(one: Chapter, *, is_loud: bool = False) -> Html:
    rows = [(fact.what, fact.found) for fact in one.facts]
    table = html_table("", [name("what"), words("found")], rows) if rows else ""
    kind = "unproved" if is_loud else "says"
    said = f'<p class="{kind}">{text(one.says)}</p>' if one.says else ""
    return Html(f'<section class="facts"><h3>{text(one.title)}</h3>{said}{table}</section>')
