"""What is decided and what is open, as one JSON object."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from workbench.steps.deciding import Decisions
    from workbench.steps.json_values import JsonObject


def decisions_answer(kept: Decisions) -> JsonObject:
    """Return `decided` (what, reason, by, at, answers), `open` (number, what, reason, by, at)."""
    return {
        "decided": [
            {
                "what": one.what,
                "reason": one.reason,
                "by": one.by,
                "at": one.at,
                "answers": one.answers,
            }
            for one in kept.decided
        ],
        "open": [
            {
                "number": one.number,
                "what": one.entry.what,
                "reason": one.entry.reason,
                "by": one.entry.by,
                "at": one.entry.at,
            }
            for one in kept.open
        ],
    }
