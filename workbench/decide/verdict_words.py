"""Verdicts in sentences: why a place or a window holds or not, and what to do now."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from workbench.decide.confirmation import JudgedBy
from workbench.decide.verdict import Answer
from workbench.decide.zero_failures import counting, shown_without_failure

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.decide.confirmation import ConfirmationPlan, Place
    from workbench.decide.verdict import SeenPlace, Tally


def percent(share: float) -> str:
    """Return a share in percent, rounded down to a tenth, as a lower limit must be.

    >>> percent(0.95), percent(0.99996)
    ('95 %', '99.9 %')
    """
    return f"{math.floor(1000 * share + 1e-9) / 10:g} %"


def place_reasons(plan: ConfirmationPlan, place: Place, seen: SeenPlace) -> SeenPlace:
    """Return the place with its reasons in sentences."""
    said = [_tally_words(seen.tally), _shown_words(plan, seen)]
    if plan.judged_by is JudgedBy.MEASURE and seen.judged_by is JudgedBy.COUNTING:
        reason = getattr(seen.by_measure, "reason", "")
        said.append(f"Counted, not judged by measure as planned: {reason}.")
    said += [_foreseen_words(place, seen.tally)]
    said += [sentence for one in seen.outcomes for sentence in one.sentences]
    return replace(seen, reasons=tuple(one for one in said if one))


def _tally_words(tally: Tally) -> str:
    beside = [
        f"{count} {words}"
        for count, words in (
            (tally.failed, "missed a requirement"),
            (tally.lost, "broke or could not be made"),
            (tally.unknown, "cannot be told (not recorded, left out, or cut off by the gauge)"),
        )
        if count
    ]
    rest = f"; {', '.join(beside)}" if beside else ""
    return f"{tally.met} of {tally.planned} parts met everything{rest}."


def _shown_words(plan: ConfirmationPlan, seen: SeenPlace) -> str:
    way = (
        "by how far inside its limits they measure"
        if seen.judged_by is JudgedBy.MEASURE
        else "by their count (exact binomial)"
    )
    words = (
        f"They show {way} that at least {percent(seen.shown)} of parts meet everything, with "
        f"{percent(plan.confidence)} confidence; asked are {percent(plan.share)}."
    )
    if seen.answer is Answer.FAILS:
        return f"{words} Even the upper limit of the share stays below that."
    clean = seen.tally.met == seen.tally.planned
    if clean and seen.judged_by is JudgedBy.MEASURE:
        alone = shown_without_failure(seen.tally.planned, confidence=plan.confidence)
        return f"{words} Counted alone, no failure in {seen.tally.planned} shows {percent(alone)}."
    return words


def _foreseen_words(place: Place, tally: Tally) -> str:
    fell = tally.failed + tally.lost
    if place.failures_low <= fell <= place.failures_high:
        return ""
    foreseen = (
        f"{place.failures_low}"
        if place.failures_low == place.failures_high
        else f"{place.failures_low} to {place.failures_high}"
    )
    return f"{fell} failed where {foreseen} were foreseen."


def verdict_reasons(plan: ConfirmationPlan, places: Sequence[SeenPlace]) -> tuple[str, ...]:
    """Return why the whole is what it is, in sentences."""
    refuted = [one.name for one in places if one.answer is Answer.FAILS]
    undecided = [one for one in places if one.answer is Answer.OPEN]
    asked = (
        f"at least {percent(plan.share)} of parts meet every requirement, with "
        f"{percent(plan.confidence)} confidence"
    )
    if refuted:
        why = (
            f"Refuted at the {_listed(refuted)}: with {percent(plan.confidence)} confidence fewer "
            f"than {percent(plan.share)} of parts meet every requirement there."
        )
        return (why,)
    if undecided:
        shown = min(one.shown for one in undecided)
        return (
            (
                f"Not shown at the {_listed([one.name for one in undecided])}: what the parts "
                f"show there is {percent(shown)}, not {percent(plan.share)}."
            ),
        )
    return (f"Shown at every place on its own: {asked}.",)


def what_to_do(plan: ConfirmationPlan, places: Sequence[SeenPlace]) -> tuple[str, ...]:
    """Return what to do now, in sentences."""
    answers = {one.answer for one in places}
    if Answer.FAILS in answers:
        return _if_refuted(places)
    if Answer.OPEN in answers:
        return _if_open(plan, places)
    return (*_if_holds(), *_off_foreseen(places))


def _if_holds() -> tuple[str, ...]:
    return (
        (
            "Release the limits of the window with this verdict as their evidence, signed by the "
            "people responsible; write the hand-over sheet."
        ),
        (
            "Confirm again when a material, tool, operator or line changes that was not among the "
            "sittings."
        ),
    )


def _off_foreseen(places: Sequence[SeenPlace]) -> tuple[str, ...]:
    off = [
        f"{one.outcome} at the {place.name}"
        for place in places
        for one in place.outcomes
        if one.mean_as_foreseen is False
    ]
    if not off:
        return ()
    return (
        (
            f"The mean was not as foreseen: {'; '.join(off)}. The promise is shown all the same, "
            "but do not widen or move the limits by the model before you know why."
        ),
    )


def _if_refuted(places: Sequence[SeenPlace]) -> tuple[str, ...]:
    worst = [
        f"{one.outcome} ({one.tally.failed} of {one.tally.planned} at the {place.name})"
        for place in places
        for one in place.outcomes
        if one.tally.failed
    ]
    lost = sum(place.tally.lost for place in places)
    what = [f"Look first at {'; '.join(worst)}."] if worst else []
    parts = "1 part" if lost == 1 else f"{lost} parts"
    what += [f"{parts} broke or could not be made: find out how."] if lost else []
    return (
        "Do not release the limits, and do not use parts made within them until they are judged.",
        *what,
        (
            "Find what differs from the trial (lot, operator, shift, gauge, a setting); then run "
            "the next trial in a new block, or choose a narrower window, and confirm that anew."
        ),
    )


def _if_open(plan: ConfirmationPlan, places: Sequence[SeenPlace]) -> tuple[str, ...]:
    undecided = [one for one in places if one.answer is Answer.OPEN]
    shown = min(one.shown for one in places)
    failures = max(one.tally.planned - one.tally.met for one in undecided)
    clean = counting(plan.share, confidence=plan.confidence).parts
    one_more = counting(plan.share, confidence=plan.confidence, failures=1).parts
    said = [
        (
            f"Do not release them as {percent(plan.share)}. What is shown everywhere is "
            f"{percent(shown)}; whether that is enough is for the people responsible to say, in "
            "writing."
        ),
        (
            f"Or lock a new confirmation with more parts: counted, {clean} at a place without a "
            f"failure or {one_more} with one. Parts made so far cannot be counted in again: going "
            "on until it holds would promise more than it keeps."
        ),
    ]
    if failures:
        said.append("Find out first why those parts failed or were lost; more parts mend nothing.")
    return tuple(said)


def _listed(names: Sequence[str]) -> str:
    return " and the ".join([", the ".join(names[:-1]), names[-1]] if names[1:] else names)
