"""Hold the parts of a confirmation against what was locked, and say what that shows."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.decide.confirmation_said import MAKING
from workbench.decide.verdict import Answer, Verdict
from workbench.decide.verdict_parts import parts_of
from workbench.decide.verdict_place import seen_place
from workbench.decide.verdict_settings import check_settings
from workbench.decide.verdict_words import verdict_reasons, what_to_do
from workbench.errors import DecisionError
from workbench.run.record import Status

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.decide.confirmation import ConfirmationPlan
    from workbench.decide.verdict import SeenPlace
    from workbench.run.record import Record


def confirmation_verdict(
    plan: ConfirmationPlan, record: Record, *, changed: Sequence[str] = ()
) -> Verdict:
    """Return the verdict of the parts recorded, judged by what was locked.

    Raises
    ------
    DecisionError
        If no part is recorded, or parts were made at other settings than planned.
    """
    _check_made(record)
    check_settings(plan, record)
    places = tuple(seen_place(plan, one, parts_of(record, one)) for one in plan.places)
    return Verdict(
        answer=_answer(places),
        share=plan.share,
        confidence=plan.confidence,
        places=places,
        reasons=verdict_reasons(plan, places),
        to_do=what_to_do(plan, places),
        changed=tuple(changed),
        notes=(*_added(record), *(one for one in plan.notes if one not in MAKING)),
    )


def _answer(places: Sequence[SeenPlace]) -> Answer:
    answers = {one.answer for one in places}
    if Answer.FAILS in answers:
        return Answer.FAILS
    return Answer.OPEN if Answer.OPEN in answers else Answer.HOLDS


def _added(record: Record) -> tuple[str, ...]:
    n = 0 if record.plan is None else len(record.plan)
    extra = [str(run) for run in record.run.tolist() if not 1 <= run <= n]
    if not extra:
        return ()
    return (
        (
            "Runs that were not planned do not count, or a confirmation could be gone on with "
            f"until it holds: {', '.join(extra)}."
        ),
    )


def _check_made(record: Record) -> None:
    if all(one is Status.MISSING for one in record.status):
        raise DecisionError(
            "No part of the confirmation is recorded yet.",
            why="A verdict is what the parts say.",
            next_step="Make them, fill in the run sheet, and take it in with --take.",
        )
