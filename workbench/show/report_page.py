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
from workbench.show.page import page
from workbench.show.verdict_page import confirmation_screens

if TYPE_CHECKING:
    from workbench.show.story import Story


def report(story: Story) -> str:
    """Return the whole story as one self-contained page: no network, light, dark and print."""
    trial = story.trial
    screens = [question_screen(story), plan_screen(story), happened_screen(story)]
    if story.record is not None and len(story.record):
        screens += matters_screens(story)
        screens += window_screens(story)
    if story.proof is not None:
        screens += confirmation_screens(story.proof)
    screens += [cautions_screen(story), not_tested_screen(story), decision_screen(story)]
    trail = f"{trial.title}. {trial.invented}" if trial.invented else trial.title
    foot = story.written or "Plan, journal and fit can be rebuilt from the trial folder."
    return page(f"{trial.title}: report", trail, tuple(screens), foot=foot)
