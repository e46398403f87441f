"""The report: one page of HTML that a meeting can read, from question to decision."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.show.chapter_after import (
    cautions_screen,
    decision_screen,
    not_tested_screen,
    window_screens,
)
from workbench.show.chapter_before import plan_screen, question_screen
from workbench.show.chapter_happened import happened_screen
from workbench.show.chapter_matters import matters_screens
from workbench.show.made import (
    CAUTIONS,
    CONFIRMATION,
    DECISION,
    FITS,
    HAPPENED,
    NOT_TESTED,
    PLAN,
    QUESTION,
    made_window,
    with_made,
)
from workbench.show.page import page
from workbench.show.verdict_page import confirmation_screens

if TYPE_CHECKING:
    from workbench.show.page import Screen
    from workbench.show.story import Story


def report(story: Story) -> str:
    """Return the whole story as one self-contained page: no network, light, dark and print."""
    trial = story.trial
    screens: list[Screen] = []
    screens += with_made([question_screen(story)], QUESTION)
    screens += with_made([plan_screen(story)], PLAN)
    screens += with_made([happened_screen(story)], HAPPENED)
    if story.record is not None and len(story.record):
        screens += with_made(matters_screens(story), FITS)
        screens += with_made(window_screens(story), made_window(trial))
    if story.proof is not None:
        screens += with_made(confirmation_screens(story.proof), CONFIRMATION)
    screens += with_made([cautions_screen(story)], CAUTIONS)
    screens += with_made([not_tested_screen(story)], NOT_TESTED)
    screens += with_made([decision_screen(story)], DECISION)
    trail = f"{trial.title}. {trial.invented}" if trial.invented else trial.title
    foot = story.written or "Plan, journal and fit can be rebuilt from the trial folder."
    return page(f"{trial.title}: report", trail, tuple(screens), foot=foot)
