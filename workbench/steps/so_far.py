"""What a trial folder can show so far: each answer, or in words what is still missing for it.

For notebooks that are run again at every stage of a trial: a mistake or a step that has not been
taken is an answer there, not a traceback.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

from workbench import files, show
from workbench.decide.windows import NoWindow
from workbench.errors import Unavailable, WorkbenchError
from workbench.show.cautions import caution_blocks, deferral
from workbench.show.escape import Html
from workbench.steps.choosing import compare_plans
from workbench.steps.fitting import fit_all
from workbench.steps.trials import open_trial
from workbench.steps.windows import find_window

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    import plotly.graph_objects as go

    from workbench.decide.windows import Decision
    from workbench.define.trial import Trial
    from workbench.fit.faces import Fit
    from workbench.plan.candidate_nouns import Comparison
    from workbench.plan.plans import Plan
    from workbench.run.record import Record
    from workbench.steps.windows import WindowAnswer

Shown = TypeVar("Shown")
NO_RESULT = "no run has a result yet. Fill in the run sheet, then: workbench take DIR TABLE"


def trial_so_far(folder: Path) -> Trial | Unavailable:
    """Return the trial of a folder, or what is wrong with its trial.toml."""
    return _or_reason(lambda: files.read_trial(folder))


def cautions_so_far(folder: Path) -> Html | Unavailable:
    """Return every caution of the trial, and last what comes before them all."""
    trial = trial_so_far(folder)
    if isinstance(trial, Unavailable):
        return trial
    return Html(caution_blocks(trial) + deferral())


def to_fill_in(folder: Path) -> tuple[str, ...]:
    """Return what only people can state and trial.toml does not say yet, a line each."""
    trial = trial_so_far(folder)
    if isinstance(trial, Unavailable):
        return (trial.reason,)
    missing = []
    if trial.share is None:
        missing.append("share: how many of the new parts must meet everything?")
    if trial.confidence is None:
        missing.append("confidence: how sure must that be?")
    if trial.invented:
        missing.append("invented: take that line out when every number is your own")
    return tuple(missing) or ("nothing is left to state",)


def plans_so_far(folder: Path) -> Comparison | Unavailable:
    """Return the plans that fit the trial side by side, or why there are none."""
    return _or_reason(lambda: compare_plans(folder).comparison)


def plan_so_far(folder: Path) -> Plan | Unavailable:
    """Return the plan that was taken, or how one is taken."""

    def taken() -> Plan | Unavailable:
        plan = open_trial(folder).plan
        missing = "no plan is taken yet. Choose one, then: workbench plan DIR --take NAME"
        return Unavailable(reason=missing) if plan is None else plan

    return _or_reason(taken)


def record_so_far(folder: Path) -> Record | Unavailable:
    """Return what was seen, or how results are taken in."""

    def seen() -> Record | Unavailable:
        record = open_trial(folder).record
        return record if record.used().any() else Unavailable(reason=NO_RESULT)

    return _or_reason(seen)


def fits_so_far(folder: Path) -> tuple[Fit | Unavailable, ...]:
    """Return the model of each outcome, or why it has none."""

    def fitted() -> tuple[Fit | Unavailable, ...]:
        return tuple(one.fit for one in fit_all(open_trial(folder)))

    found = _or_reason(fitted)
    return (found,) if isinstance(found, Unavailable) else found


def drawn_so_far(
    fits: tuple[Fit | Unavailable, ...], figure: Callable[[Fit], go.Figure]
) -> tuple[go.Figure | Unavailable, ...]:
    """Return a figure of each model, such as `show.effects`, or why there is none."""
    return tuple(one if isinstance(one, Unavailable) else figure(one) for one in fits)


def window_so_far(folder: Path) -> WindowAnswer | Unavailable:
    """Return the window of the trial, or what is missing for one."""
    return _or_reason(lambda: find_window(open_trial(folder)))


def decision_so_far(answer: WindowAnswer | Unavailable) -> Decision | NoWindow | Unavailable:
    """Return the decision of an answer, or why there is none."""
    return answer if isinstance(answer, Unavailable) else answer.decision


def ladder_so_far(folder: Path, answer: WindowAnswer | Unavailable) -> go.Figure | Unavailable:
    """Return the limits as rails with the runs on them, or why there are none."""
    decision = decision_so_far(answer)
    if isinstance(decision, Unavailable):
        return decision
    if isinstance(decision, NoWindow):
        return Unavailable(reason=decision.reason)
    return _or_reason(lambda: show.limits_ladder(decision, open_trial(folder).record))


def _or_reason(step: Callable[[], Shown | Unavailable]) -> Shown | Unavailable:
    try:
        return step()
    except WorkbenchError as missing:
        return Unavailable(reason=str(missing))
