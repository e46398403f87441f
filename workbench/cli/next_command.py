"""What `next` does."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Callable

    from workbench.steps.trials import OpenTrial

ANSWERED = 0
CANNOT = 4


def next_trial(
    chosen: Namespace, opened: OpenTrial, *, progress: Callable[[int, int], None] | None
) -> int:
    """Say what to run next, and with --take add it to the plan."""
    from workbench.cli.json_out import print_json
    from workbench.cli.next_words import next_text, taken_text
    from workbench.errors import Unavailable
    from workbench.steps.next_trial import propose_next, take_next
    from workbench.steps.next_trial_answers import next_answer, taken_answer

    found = propose_next(
        opened,
        share=chosen.share,
        confidence=chosen.confidence,
        seed=chosen.seed,
        progress=progress,
    )
    said = next_answer(found)
    words = next_text(found, opened.trial)
    if chosen.take:
        taken = take_next(opened, found, chosen.take, seed=chosen.seed)
        said |= taken_answer(taken)
        words = taken_text(taken, opened)
    if chosen.json:
        print_json(said)
    else:
        print(words)
    return CANNOT if isinstance(found.next, Unavailable) else ANSWERED
