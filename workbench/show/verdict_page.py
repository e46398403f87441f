"""The verdict of a confirmation: as a page of its own, and as a chapter of the report."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from workbench.decide.verdict import Answer
from workbench.define.outcomes import Measured, is_judged
from workbench.errors import Unavailable
from workbench.show.cautions import caution_blocks, caution_count, deferral
from workbench.show.escape import Html, identifier, text
from workbench.show.numbers import chance, percent
from workbench.show.page import Screen, figure, page, said_open
from workbench.show.verdict_figure import CAPTION, parts_against_limits, parts_sentence
from workbench.show.verdict_tables import (
    SIGN,
    foreseen_table,
    places_table,
    seen_table,
    verdict_table,
)
from workbench.show.words import counted, listed, sentence

if TYPE_CHECKING:
    from workbench.decide.confirmation import ConfirmationPlan
    from workbench.decide.verdict import Verdict
    from workbench.define.trial import Trial
    from workbench.show.story import Proof

CLAIM = {
    Answer.HOLDS: "The window holds",
    Answer.FAILS: "The window does not hold",
    Answer.OPEN: "Too few parts to say whether the window holds",
}


def verdict_page(trial: Trial, plan: ConfirmationPlan, verdict: Verdict) -> str:
    """Return one self-contained page: verdict, parts against limits, what to do, cautions."""
    screens = [*verdict_screens(trial, plan, verdict), _locked(trial, plan), _cautions(trial)]
    trail = f"{trial.title}. {trial.invented}" if trial.invented else trial.title
    foot = (
        f"Locked {plan.locked_at} by {plan.locked_by}; order of the parts from seed {plan.seed}."
    )
    return page(f"{trial.title}: verdict", trail, tuple(screens), foot=foot)


def verdict_screens(trial: Trial, plan: ConfirmationPlan, verdict: Verdict) -> tuple[Screen, ...]:
    """Return the screens of a verdict: the card, then each measured outcome."""
    measured = [
        _outcome(trial, plan, verdict, name=one.name)
        for one in trial.outcomes
        if isinstance(one, Measured) and is_judged(one)
    ]
    drawn = [one for one in measured if one is not None]
    return (_card(plan, verdict), *drawn)


def confirmation_screens(proof: Proof) -> tuple[Screen, ...]:
    """Return the screens of a confirmation in a report: its verdict, or what is planned."""
    if isinstance(proof.verdict, Unavailable):
        planned = planned_screen(proof.trial, proof.plan)
        return (replace(planned, say=(f"No verdict: {proof.verdict.reason}.", *planned.say)),)
    return verdict_screens(proof.trial, proof.plan, proof.verdict)


def planned_screen(trial: Trial, plan: ConfirmationPlan) -> Screen:
    """Return the screen of a confirmation whose parts have not been judged yet."""
    return Screen(
        key="confirmation",
        chapter="Confirmation",
        step="Confirmation",
        claim=f"{counted(plan.n_parts, 'part')} will show whether the window holds",
        say=(*plan.number, *plan.fewer),
        check="Foreseen and locked before the first part; a later change is noticed.",
        check_lead="Locked.",
        see=(places_table(plan, trial), foreseen_table(plan)),
    )


def _card(plan: ConfirmationPlan, verdict: Verdict) -> Screen:
    lowest = min(one.shown for one in verdict.places)
    made = sum(one.tally.planned - one.tally.unknown for one in verdict.places)
    return Screen(
        key="verdict",
        chapter="Verdict",
        step="Confirmation, the verdict",
        claim=_claim(verdict),
        say=(*verdict.reasons, _to_do(verdict)),
        number=chance(lowest),
        number_of=(
            f"or more of parts meet every requirement at the worst place, shown by {made} parts "
            f"with {percent(verdict.confidence)} confidence; asked were {percent(verdict.share)}"
        ),
        check=_check(verdict),
        see=(
            *(said_open(one) for one in verdict.changed),
            verdict_table(verdict),
            *_reasons(verdict),
            seen_table(plan, verdict),
        ),
    )


def _claim(verdict: Verdict) -> str:
    where = [one.name for one in verdict.places if one.answer is verdict.answer]
    if verdict.answer is Answer.HOLDS:
        return f"{CLAIM[verdict.answer]}: shown at {counted(len(where), 'place')}"
    return f"{CLAIM[verdict.answer]}: see the {listed(where)}"


def _to_do(verdict: Verdict) -> Html:
    lines = "".join(f"<li>{text(one)}</li>" for one in verdict.to_do)
    sign = SIGN[verdict.answer]
    return Html(
        f'<p><span class="v {sign}">{text(verdict.answer.value)}</span></p>'
        f"<h3>What to do</h3><ul>{lines}</ul>"
    )


def _check(verdict: Verdict) -> str:
    off = [
        f"{one.outcome} at the {place.name}"
        for place in verdict.places
        for one in place.outcomes
        if one.mean_as_foreseen is False
    ]
    if off:
        return f"Held against what was foreseen, the mean was elsewhere: {listed(off)}."
    return "Held against what was locked beforehand, every mean that can be told came out so."


def _reasons(verdict: Verdict) -> tuple[Html, ...]:
    return tuple(
        Html(f"<h3>{text(place.name)}</h3><p>{text(' '.join(place.reasons))}</p>")
        for place in verdict.places
    )


def _outcome(
    trial: Trial, plan: ConfirmationPlan, verdict: Verdict, *, name: str
) -> Screen | None:
    drawn = parts_against_limits(plan, verdict, trial, outcome=name)
    if isinstance(drawn, Unavailable):
        return None
    return Screen(
        key=f"parts-{identifier(name)}",
        step="Confirmation, the parts",
        claim=sentence(parts_sentence(plan, verdict, name)),
        see=(figure(f"parts-{identifier(name)}-drawn", drawn, CAPTION),),
    )


def _locked(trial: Trial, plan: ConfirmationPlan) -> Screen:
    return Screen(
        key="locked",
        chapter="Foreseen",
        step="Confirmation, what was locked",
        claim="What was written down before the first part was made",
        say=(*plan.number, *plan.fewer, *plan.notes),
        see=(places_table(plan, trial), foreseen_table(plan)),
    )


def _cautions(trial: Trial) -> Screen:
    count = caution_count(trial)
    return Screen(
        key="cautions",
        chapter="Cautions",
        step="Cautions",
        claim="Before anyone makes parts" if count else "No hazard has been named",
        say=(deferral(),),
        see=(caution_blocks(trial),),
    )
