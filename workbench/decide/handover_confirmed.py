"""The confirmation as a chapter of evidence: what was locked, what was seen, what it says."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.decide.handover import Chapter, Fact
from workbench.decide.handover_words import counted, percent, with_unit
from workbench.errors import Unavailable

if TYPE_CHECKING:
    from collections.abc import Iterator

    from workbench.decide.confirmation import ConfirmationPlan
    from workbench.decide.verdict import SeenPlace, Verdict

NOT_PLANNED = (
    "Not confirmed. No confirmation has been planned: nothing but the trial itself stands behind "
    "these limits."
)
NOT_JUDGED = (
    "Not confirmed. A confirmation is planned, its predictions are written down, and no verdict "
    "has been reached yet."
)
TITLE = "Confirmation"


def confirmation_chapter(
    locked: ConfirmationPlan | None, verdict: Verdict | Unavailable | None
) -> Chapter:
    """Return what a confirmation has shown, or that there is none."""
    facts = () if locked is None else tuple(_locked(locked))
    if verdict is None:
        return Chapter(title=TITLE, facts=facts, says=NOT_PLANNED)
    if isinstance(verdict, Unavailable):
        why = Fact(what="why there is no verdict", found=verdict.reason)
        return Chapter(title=TITLE, facts=(*facts, why), says=NOT_JUDGED)
    seen = tuple(fact for place in verdict.places for fact in _seen(place, verdict))
    rest = [
        *(Fact(what="why", found=one) for one in verdict.reasons),
        *(Fact(what="to do", found=one) for one in verdict.to_do),
        *(Fact(what="changed since it was locked", found=one) for one in verdict.changed),
        *(Fact(what="note", found=one) for one in verdict.notes),
    ]
    said = (
        f"Verdict: {verdict.answer}. Asked at each place: {percent(verdict.share)} of parts, with "
        f"{percent(verdict.confidence)} confidence."
    )
    return Chapter(title=TITLE, facts=(*facts, *seen, *rest), says=said)


def _locked(plan: ConfirmationPlan) -> Iterator[Fact]:
    when = f" on {plan.locked_at}" if plan.locked_at else ""
    who = f" by {plan.locked_by}" if plan.locked_by else ""
    if when or who:
        yield Fact(what="predictions locked", found=f"Written down{when}{who}, before any part.")
    else:
        yield Fact(what="predictions", found="Not locked: they prove nothing until they are.")
    yield Fact(
        what="parts planned",
        found=f"{counted(plan.n_parts, 'part')} at {counted(len(plan.places), 'place')}, "
        f"judged by {plan.judged_by}",
    )
    for one in plan.sittings:
        yield Fact(what="made under", found=one)
    for rests in plan.rests_on:
        yield Fact(what=f"rests on, {rests.what}", found=rests.digest)


def _seen(place: SeenPlace, verdict: Verdict) -> Iterator[Fact]:
    tally = place.tally
    counts = [
        f"{tally.met} of {counted(tally.planned, 'part')} met every requirement",
        *(
            f"{number} {word}"
            for number, word in (
                (tally.failed, "missed one"),
                (tally.lost, "broke or could not be made"),
                (tally.unknown, "cannot be told"),
            )
            if number
        ),
    ]
    at = ", ".join(f"{name} {with_unit(value, '')}" for name, value in place.settings)
    yield Fact(
        what=f"{place.name} ({at})",
        found=f"{'; '.join(counts)}. At least {percent(place.shown)} is shown with "
        f"{percent(verdict.confidence)} confidence: {place.answer}.",
    )
    for one in place.outcomes:
        for said in one.sentences:
            yield Fact(what=f"{place.name}, {one.outcome}", found=said)
