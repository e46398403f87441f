"""Fill the story of a trial and write it as one self-contained page."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from workbench import __version__, files, run, show
from workbench.decide.windows import NoWindow, Window
from workbench.define.outcomes import is_judged
from workbench.errors import Unavailable
from workbench.plan import mixing
from workbench.plan.candidates import NothingFitsError
from workbench.show.story import Decided, Proof, Story
from workbench.steps.asked_again import asked_again, several_of, shapes_of
from workbench.steps.caveats import not_tested
from workbench.steps.choosing import ChoiceWish, compared
from workbench.steps.confirm_state import confirmation_state
from workbench.steps.deciding import decisions_of
from workbench.steps.drawing import middle
from workbench.steps.fitting import fit_all
from workbench.steps.margins import margin_of
from workbench.steps.next_trial import next_after
from workbench.steps.people import now
from workbench.steps.plan_facts import (
    cannot_tell_apart,
    detectable,
    detectable_for,
    effects_of,
)
from workbench.steps.plan_figures import known_chances
from workbench.steps.promises import promises
from workbench.steps.report_figures import chance_maps, interaction_lines, mean_maps
from workbench.steps.window_beside import curve_of, what_if_of
from workbench.steps.windows import find_window

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from workbench.decide import AssuranceCurve, WhatIf
    from workbench.decide.windows import Decision
    from workbench.define.settings import Value
    from workbench.files.decisions import DecisionEntry, QuestionEntry
    from workbench.fit.faces import Fit
    from workbench.plan.candidate_nouns import Comparison
    from workbench.steps.fitting import OutcomeFit
    from workbench.steps.trials import OpenTrial
    from workbench.steps.windows import WindowAnswer

PAGE = "report.html"
ADOPTED = "adopted"  # kind of a plan that came with a table


def write_report(
    opened: OpenTrial,
    *,
    share: float | None = None,
    confidence: float | None = None,
    with_curve: bool = False,
    with_what_if: bool = False,
    progress: Callable[[int, int], None] | None = None,
) -> Path:
    """Write report.html, with whatever has happened so far, and return its path.

    `share` and `confidence` stand instead of those in trial.toml; where neither says both, the
    report has no window. `with_curve` and `with_what_if` add what more assurance would cost and
    what changes would buy; both search several windows.

    Raises
    ------
    WorkbenchError
        If a file of the trial cannot be understood or the page cannot be written.
    """
    trial = opened.trial
    chosen = replace(
        trial,
        share=trial.share if share is None else share,
        confidence=trial.confidence if confidence is None else confidence,
    )
    told = replace(opened, trial=chosen)
    answer = window_if_asked(told, progress=progress)
    curve = curve_of(told, answer, progress=progress) if answer and with_curve else None
    levers = what_if_of(told, answer, progress=progress) if answer and with_what_if else None
    return report_with(told, answer, curve=curve, levers=levers)


def report_with(
    opened: OpenTrial,
    answer: WindowAnswer | None,
    *,
    curve: AssuranceCurve | Unavailable | None = None,
    levers: WhatIf | Unavailable | None = None,
) -> Path:
    """Write report.html around a window that was sought already (None: none was asked for)."""
    path = opened.folder / PAGE
    story = replace(
        story_of(opened, answer, comparison=alternatives(opened)),
        assurance=None if isinstance(curve, Unavailable) else curve,
        what_if=None if isinstance(levers, Unavailable) else levers,
    )
    files.write_text_atomically(path, show.report(story))
    return path


def alternatives(opened: OpenTrial) -> Comparison | None:
    """Return the plans that fit the trial beside the one that was run.

    None for a table that was adopted, whose plan was not ours to choose, and where none fits.
    """
    if opened.plan is None or opened.plan.recipe.kind == ADOPTED:
        return None
    try:
        return compared(opened.trial, ChoiceWish())
    except NothingFitsError:
        return None


def story_of(
    opened: OpenTrial, answer: WindowAnswer | None, *, comparison: Comparison | None = None
) -> Story:
    """Return the story of a trial as far as it has come, `answer` its window if one was sought."""
    record = opened.record
    has_results = bool(record.used().any())
    fitted = fit_all(opened) if has_results else ()
    fits = [one.fit for one in fitted if not isinstance(one.fit, Unavailable)]
    at = _held(opened, answer)
    kept = decisions_of(opened.folder)
    return Story(
        trial=opened.trial,
        plan=opened.plan,
        detectable=detectable(opened),
        detectable_for=detectable_for(opened),
        cannot_tell_apart=cannot_tell_apart(opened.plan),
        mixing=None if opened.plan is None else mixing(opened.plan),
        plan_effects=effects_of(opened.plan),
        chances_to_detect=(
            () if opened.plan is None else known_chances(opened.trial, opened.plan)
        ),
        comparison=comparison,
        margin=margin_of(opened.trial, opened.plan),
        record=record if has_results else None,
        deviations=run.deviations(record) if has_results else (),
        findings=run.findings(record) if has_results else (),
        fits=tuple((one.outcome.name, one.fit) for one in fitted),
        fits_with_excluded=_with_excluded(fitted),
        lines=tuple(line for one in fits for line in interaction_lines(one, at=at)),
        mean_maps=tuple(drawn for one in fits for drawn in mean_maps(one, at=at)),
        asked_again=tuple(asked_again(record, one, seed=opened.trial.seed) for one in fits),
        shapes=tuple(shape for one in fits for shape in shapes_of(one)),
        several=several_of(fits),
        decision=None if answer is None else _decision(answer),
        next_trials=None if answer is None else next_after(opened, answer),
        chance_maps=() if answer is None else chance_maps(answer, at=at, seed=opened.trial.seed),
        promises=() if answer is None else promises(answer),
        proof=_proof(opened),
        not_tested=not_tested(opened, answer),
        decisions=tuple(_said(one) for one in kept.decided),
        questions=tuple(_said(one.entry) for one in kept.open),
        written=f"{now()}, workbench {__version__}",
    )


def window_if_asked(
    opened: OpenTrial, *, progress: Callable[[int, int], None] | None = None
) -> WindowAnswer | None:
    """Return the window if there are results and the trial says what it must promise."""
    trial = opened.trial
    stated = trial.share is not None and trial.confidence is not None
    judged = any(is_judged(one) for one in trial.outcomes)
    if not (stated and judged and opened.record.used().any()):
        return None
    return find_window(opened, progress=progress)


def _decision(answer: WindowAnswer) -> Decision | Unavailable:
    if isinstance(answer.decision, NoWindow):
        none = answer.decision
        return Unavailable(reason=f"{none.reason} {none.next_trial}")
    return answer.decision


def _held(opened: OpenTrial, answer: WindowAnswer | None) -> dict[str, Value]:
    """Return where factors that a figure does not show are held: at the set point, or midway."""
    held = middle(opened.trial.factors)
    if answer is not None and isinstance(answer.best, Window):
        held |= answer.best.set_point()
    return held


def _with_excluded(
    fitted: Sequence[OutcomeFit],
) -> tuple[tuple[str, Fit | Unavailable], ...]:
    return tuple(
        (one.outcome.name, one.with_excluded) for one in fitted if one.with_excluded is not None
    )


def _proof(opened: OpenTrial) -> Proof | None:
    state = confirmation_state(opened.folder)
    if state is None:
        return None
    return Proof(trial=opened.trial, plan=state.plan, verdict=state.verdict)


def _said(one: DecisionEntry | QuestionEntry) -> Decided:
    return Decided(what=one.what, by=(one.by,), date=one.at[:10], evidence=one.reason)
