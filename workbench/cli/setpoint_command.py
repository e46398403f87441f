"""What `setpoint` does."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Callable

    from workbench.steps.trials import OpenTrial

ANSWERED = 0
CANNOT = 4


def setpoint(
    chosen: Namespace, opened: OpenTrial, *, progress: Callable[[int, int], None] | None
) -> int:
    """Say where in the window to set, and what is traded for what."""
    from workbench.cli.json_out import print_json
    from workbench.cli.setpoint_words import set_points_text
    from workbench.errors import Unavailable
    from workbench.steps.set_point_answers import set_point_answer
    from workbench.steps.set_points import find_set_points

    found = find_set_points(
        opened,
        goals=chosen.goal,
        share=chosen.share,
        confidence=chosen.confidence,
        seed=chosen.seed,
        progress=progress,
    )
    if chosen.json:
        print_json(set_point_answer(found))
    else:
        print(set_points_text(found, opened.trial))
    return CANNOT if isinstance(found.points, Unavailable) else ANSWERED
