"""The command that hands a window over to the line."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Callable

    from workbench.steps.trials import OpenTrial

ANSWERED = 0
CANNOT = 4


def handover(
    chosen: Namespace,
    opened: OpenTrial,
    *,
    progress: Callable[[int, int], None] | None,
) -> int:
    """Write the hand-over of an open trial, and say what it is worth."""
    from workbench.cli.handover_words import handover_text, no_handover_text
    from workbench.cli.json_out import print_json
    from workbench.decide.handover_made import NoHandOver
    from workbench.steps.handover import write_handover
    from workbench.steps.handover_answers import handover_answer, no_handover_answer

    found = write_handover(
        opened, share=chosen.share, confidence=chosen.confidence, progress=progress
    )
    if isinstance(found, NoHandOver):
        if chosen.json:
            print_json(no_handover_answer(found))
        else:
            print(no_handover_text(found))
        return CANNOT
    if chosen.json:
        print_json(handover_answer(found))
    else:
        print(handover_text(found))
    return ANSWERED
