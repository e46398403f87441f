"""How far the confirmation of a trial has come, for whoever reports on it or hands it over."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.errors import Unavailable, WorkbenchError
from workbench.steps.confirm import locked_confirmation, parts_folder
from workbench.steps.confirm_parts import judge_confirmation

if TYPE_CHECKING:
    from pathlib import Path

    from workbench.decide.confirmation import ConfirmationPlan
    from workbench.decide.verdict import Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class ConfirmationState:
    """A confirmation that is locked, and its verdict or why there is none."""

    plan: ConfirmationPlan
    verdict: Verdict | Unavailable


def confirmation_state(folder: Path) -> ConfirmationState | None:
    """Return the confirmation of a trial folder, None if none is locked.

    What keeps its parts from being judged is a reason here, not an error: a report tells it.

    Raises
    ------
    WorkbenchError
        If confirmation.toml was changed after it was locked, or cannot be read.
    """
    locked = locked_confirmation(folder)
    if locked is None:
        return None
    if not any((parts_folder(folder) / "results").glob("*.jsonl")):
        return ConfirmationState(
            plan=locked.plan, verdict=Unavailable(reason="no part is recorded yet")
        )
    try:
        return ConfirmationState(plan=locked.plan, verdict=judge_confirmation(folder).verdict)
    except WorkbenchError as refused:
        return ConfirmationState(
            plan=locked.plan, verdict=Unavailable(reason=f"{refused.wrong} {refused.next_step}")
        )
