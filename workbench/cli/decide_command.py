"""The command that keeps what a meeting decided or left open."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from argparse import Namespace

    from workbench.steps.deciding import Decisions

ANSWERED = 0


def decide(chosen: Namespace) -> int:
    """Keep a decision or an open question."""
    from workbench.cli.json_out import print_json
    from workbench.steps.deciding import keep_decision, keep_question
    from workbench.steps.deciding_answers import decisions_answer

    if chosen.question:
        kept = keep_question(chosen.folder, chosen.text, reason=chosen.reason, by=chosen.by)
    else:
        kept = keep_decision(
            chosen.folder,
            chosen.text,
            reason=chosen.reason,
            by=chosen.by,
            answers=chosen.answers,
        )
    if chosen.json:
        print_json(decisions_answer(kept))
        return ANSWERED
    print(f"kept in {chosen.folder}/decisions.toml\n\n{_kept_text(kept)}")
    print(f"\nnext: workbench report {chosen.folder}")
    return ANSWERED


def _kept_text(kept: Decisions) -> str:
    decided = [f"  {one.at[:10]}  {one.what} ({one.by})" for one in kept.decided]
    still = [f"  {one.number}  {one.entry.what} ({one.entry.by})" for one in kept.open]
    parts = [
        "\n".join(["decided", *(decided or ["  nothing yet"])]),
        "\n".join(["open questions", *(still or ["  none"])]),
    ]
    return "\n\n".join(parts)
