"""The confirmation sheet: what is to be shown, where, by how many parts; what is foreseen."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.show.cautions import caution_blocks, caution_count, deferral
from workbench.show.escape import Html, text
from workbench.show.numbers import percent
from workbench.show.style import MARK, style_sheet
from workbench.show.verdict_tables import foreseen_table, places_table
from workbench.show.words import counted

if TYPE_CHECKING:
    from workbench.decide.confirmation import ConfirmationPlan
    from workbench.define.trial import Trial

RULES = (
    "Make the parts in the order of the run sheet, one at a time, every setting set anew.",
    "A part that breaks or cannot be made stays in: write it down as failed, and say how.",
    "Nobody adds parts, leaves parts out or goes on until it holds.",
    "Whoever reads the parts need not see this page.",
)


def confirmation_sheet(trial: Trial, plan: ConfirmationPlan) -> str:
    """Return a whole page of HTML to print and sign before the first part is made."""
    name = text(trial.title)
    invented = f'<p class="invented">{text(trial.invented)}</p>' if trial.invented else ""
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width,initial-scale=1">'
        f"<title>{name}: confirmation</title><style>{style_sheet()}</style></head>"
        '<body><main class="sheet wide">'
        f'<div class="foot top"><span>{MARK}</span><span>{name}: confirmation, seed {plan.seed}'
        f"</span></div><h1>Confirmation: {counted(plan.n_parts, 'part')} at "
        f"{counted(len(plan.places), 'place')}</h1>{invented}"
        f"{_asked(plan)}{_before(trial)}{places_table(plan, trial)}{_number(plan)}"
        f"{_sittings(plan)}{foreseen_table(plan)}{_locked(plan)}{_signatures()}"
        f"{'' if caution_count(trial) else deferral()}</main></body></html>"
    )


def _asked(plan: ConfirmationPlan) -> Html:
    return Html(
        "<p><b>To be shown</b>, at each place on its own: at least "
        f"{text(percent(plan.share))} of parts meet every requirement, with "
        f"{text(percent(plan.confidence))} confidence; judged by {text(plan.judged_by.value)}.</p>"
    )


def _before(trial: Trial) -> Html:
    if not caution_count(trial):
        return Html("")
    return Html(f'<section class="before">{caution_blocks(trial)}{deferral()}</section>')


def _number(plan: ConfirmationPlan) -> Html:
    lines = "".join(f"<p>{text(one)}</p>" for one in (*plan.number, *plan.fewer))
    return Html(f"<h3>Why so many</h3>{lines}")


def _sittings(plan: ConfirmationPlan) -> Html:
    lines = "".join(
        f"<p><b>Block {number}:</b> {text(words)}. Which? ____________________</p>"
        for number, words in enumerate(plan.sittings, 1)
    )
    rules = "".join(f"<li>{text(one)}</li>" for one in RULES)
    return Html(f"<h3>How they are made</h3>{lines}<ul>{rules}</ul>")


def _locked(plan: ConfirmationPlan) -> Html:
    digests = "; ".join(
        f"{one.what} {one.digest.removeprefix('sha256:')[:12]}" for one in plan.rests_on
    )
    notes = "".join(f"<p>{text(one)}</p>" for one in plan.notes)
    return Html(
        f"<h3>To read with it</h3>{notes}<p class='u'>Locked {text(plan.locked_at)} by "
        f"{text(plan.locked_by)}. Rests on: {text(digests)}.</p>"
    )


def _signatures() -> Html:
    roles = ("foreseen by, date", "agreed by, date", "parts made by, date")
    return Html(f'<div class="sign">{"".join(f"<div>{text(one)}</div>" for one in roles)}</div>')
