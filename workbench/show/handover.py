"""The hand-over as one page to print: a work instruction, a control plan, the evidence."""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING

from workbench.decide.handover import Checked
from workbench.show.escape import Html, text
from workbench.show.handover_evidence import evidence_leaf
from workbench.show.handover_instruction import BLANK, instruction_leaf
from workbench.show.html_tables import html_table, name, words
from workbench.show.style import MARK, style_sheet

if TYPE_CHECKING:
    from workbench.decide.handover import ControlRow, HandOver

KINDS = {Checked.SETTING: "set", Checked.REQUIREMENT: "part"}


def hand_over(made: HandOver) -> str:
    """Return the hand-over as a whole page of HTML that needs nothing from outside.

    Its heading says "not confirmed" as long as no confirmation stands behind the window.
    """
    title = text(heading(made))
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width,initial-scale=1">'
        f"<title>{title}</title><style>{style_sheet()}{_own_style()}</style></head><body>"
        f'<main class="sheet handover">{instruction_leaf(made, heading(made))}'
        f"{_control_leaf(made)}{evidence_leaf(made)}</main></body></html>"
    )


def heading(made: HandOver) -> str:
    """Return the heading, with what was proved in it."""
    said = "confirmed" if made.proof.is_confirmed else "not confirmed"
    return f"Hand-over, {said}: {made.trial.title}"


@cache
def _own_style() -> str:
    return files("workbench.show").joinpath("handover.css").read_text(encoding="utf-8")


def _control_leaf(made: HandOver) -> Html:
    columns = [
        name("characteristic"),
        words("what"),
        words("specification"),
        words("how it is read"),
        words("parts"),
        words("how often"),
        words("if it is off"),
    ]
    table = html_table("", columns, [_control(one) for one in made.control])
    return Html(
        f'<section class="leaf control"><div class="foot top"><span>{MARK}</span>'
        f"<span>{text(heading(made))}</span></div><h2>Control plan</h2>"
        "<p>“set” is a setting of the bench, “part” a requirement on what comes off it. What the "
        "trial does not know stays open, for people to fill in before release: how a setting is "
        f"read, how many parts are checked, and how often.</p>{table}</section>"
    )


def _control(row: ControlRow) -> tuple[object, ...]:
    return (
        row.characteristic,
        KINDS[row.checked],
        row.specification,
        row.method or BLANK,
        row.sample or BLANK,
        row.frequency or BLANK,
        row.reaction,
    )
