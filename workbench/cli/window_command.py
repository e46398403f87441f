"""What `window` does."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Callable, Iterator

    from workbench.steps.json_values import JsonObject
    from workbench.steps.trials import OpenTrial
    from workbench.steps.windows import WindowAnswer

ANSWERED = 0
CANNOT = 4


def window(
    chosen: Namespace, opened: OpenTrial, *, progress: Callable[[int, int], None] | None
) -> int:
    """Find the window; with --curve and --what-if also what is asked beside it."""
    from workbench.cli.json_out import print_json
    from workbench.cli.window_words import window_text
    from workbench.decide.windows import NoWindow
    from workbench.steps.window_answers import window_answer
    from workbench.steps.window_wish import window_wish
    from workbench.steps.windows import find_window

    found = find_window(
        opened,
        share=chosen.share,
        confidence=chosen.confidence,
        seed=chosen.seed,
        accept_straight=chosen.accept_straight,
        wish=window_wish(
            opened.trial.factors,
            hold=chosen.hold,
            within=chosen.within,
            weigh=chosen.weigh,
            size_in=chosen.size_in,
        ),
        progress=progress,
    )
    said, words = window_answer(found), window_text(found, opened.trial)
    for answer, text in _beside(chosen, opened, found, progress=progress):
        said |= answer
        words += f"\n\n{text}"
    if chosen.json:
        print_json(said)
    else:
        print(words)
    return CANNOT if isinstance(found.best, NoWindow) else ANSWERED


def _beside(
    chosen: Namespace,
    opened: OpenTrial,
    found: WindowAnswer,
    *,
    progress: Callable[[int, int], None] | None,
) -> Iterator[tuple[JsonObject, str]]:
    """Yield what is asked beside the window, as keys and as words."""
    from workbench.cli.window_more_words import curve_text, what_if_text
    from workbench.steps.window_answers import curve_answer, what_if_answer
    from workbench.steps.window_beside import curve_of, what_if_of

    if chosen.curve:
        curve = curve_of(opened, found, progress=progress)
        yield curve_answer(curve), curve_text(curve)
    if chosen.what_if:
        changes = what_if_of(opened, found, progress=progress)
        yield what_if_answer(changes), what_if_text(changes)
