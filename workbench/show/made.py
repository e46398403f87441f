"""How each chapter of the report was made: the command and the call that give its numbers.

DIR stands for the folder of the trial: a report is read far from where it was written.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from workbench.show.presenting import Made, option

if TYPE_CHECKING:
    from collections.abc import Iterable

    from workbench.define.trial import Trial
    from workbench.show.page import Screen

OPENED = 'opened = wb.steps.open_trial(Path("DIR"))'

QUESTION = Made(
    command="workbench check DIR",
    call=f"{OPENED}; opened.trial",
    says="What is asked stands in trial.toml, written by hand.",
)
PLAN = Made(
    command="workbench candidates DIR",
    call='wb.steps.compare_plans(Path("DIR"), wb.steps.ChoiceWish())',
    says="The recipe and the seed of the runs stand in plan.toml.",
)
HAPPENED = Made(
    command="workbench export DIR",
    call=f"{OPENED}; wb.run.happened(opened.record)",
    says="Every reading stands in the journal, in results/.",
)
FITS = Made(command="workbench fit DIR", call=f"{OPENED}; wb.steps.fit_all(opened)")
CONFIRMATION = Made(
    command="workbench confirm DIR --verdict",
    call='wb.steps.judge_confirmation(Path("DIR"))',
    says="What was foreseen is locked in confirmation.toml.",
)
CAUTIONS = Made(
    command="workbench sheet DIR",
    call='wb.steps.cautions_so_far(Path("DIR"))',
    says="They follow from the hazards named in trial.toml.",
)
NOT_TESTED = Made(
    command="workbench report DIR",
    call=f"{OPENED}; wb.steps.story_of(opened, None).not_tested",
)
DECISION = Made(
    command='workbench decide DIR "TEXT" --reason "TEXT" --by NAME',
    call='wb.steps.keep_decision(Path("DIR"), "TEXT", reason="TEXT", by="NAME")',
    says="Decisions and open questions are kept in decisions.toml, oldest first.",
)


def made_fit(outcome: str) -> Made:
    """Return how what matters to one outcome was made."""
    return Made(
        command=f"workbench fit DIR {option('--outcome', outcome)}",
        call=f"{OPENED}; wb.steps.fit_all(opened, outcomes=[{outcome!r}])",
    )


def made_window(trial: Trial) -> Made:
    """Return how the window was made, with the share and confidence it was asked at."""
    command = "workbench window DIR"
    asked = "opened"
    if trial.share is not None and trial.confidence is not None:
        command += f" --share {trial.share:g} --confidence {trial.confidence:g}"
        asked += f", share={trial.share:g}, confidence={trial.confidence:g}"
    return Made(
        command=command,
        call=f"{OPENED}; wb.steps.find_window({asked})",
        says=f"The draws come from seed {trial.seed}.",
    )


def with_made(screens: Iterable[Screen], made: Made) -> tuple[Screen, ...]:
    """Return the screens saying how they were made, but for those that say so already."""
    return tuple(one if one.made is not None else replace(one, made=made) for one in screens)
