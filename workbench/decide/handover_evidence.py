"""What a hand-over rests on, chapter by chapter: plan, runs, fits, window, files."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.decide.handover import Chapter, Fact
from workbench.decide.handover_confirmed import confirmation_chapter
from workbench.decide.handover_words import counted, percent, range_words, with_unit
from workbench.decide.windows import NoWindow
from workbench.errors import Unavailable
from workbench.run import happened
from workbench.run.record import Status

if TYPE_CHECKING:
    from collections.abc import Iterator

    from workbench.decide.confirmation import ConfirmationPlan
    from workbench.decide.handover import Assured
    from workbench.decide.verdict import Verdict
    from workbench.decide.windows import Decision, Window
    from workbench.define.trial import Trial
    from workbench.fit.faces import Fit
    from workbench.plan.plans import Plan
    from workbench.run.record import Record

NO_GAUGE = (
    "No gauge study stands behind this trial: whether the gauges tell parts apart well enough was "
    "not shown. Their scatter is inside that of the runs."
)
MOST_OFF = 6  # settings off plan that are told one by one


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Behind:
    """Everything that a hand-over is put together from.

    `fits` holds a fit, or why there is none, for each outcome; `assured` the shares of the
    window, last for all requirements together; `files` digests of what the answer was computed
    from; `decided` what the team has written down; `gauge` what a gauge study has shown (empty:
    there is none); `accepted` the written reason for taking lines as straight.
    """

    trial: Trial
    plan: Plan | None
    record: Record
    fits: tuple[tuple[str, Fit | Unavailable], ...]
    decision: Decision
    assured: tuple[Assured, ...]
    files: tuple[Fact, ...]
    decided: tuple[Fact, ...]
    not_tested: tuple[str, ...]
    written: str
    accepted: str = ""
    gauge: tuple[Fact, ...] = ()
    locked: ConfirmationPlan | None = None
    verdict: Verdict | Unavailable | None = None


def evidence(behind: Behind, window: Window) -> tuple[Chapter, ...]:
    """Return the chapters of evidence in the order of the job, empty ones said to be empty."""
    return (
        confirmation_chapter(behind.locked, behind.verdict),
        Chapter(title="Window", facts=tuple(_window(behind, window))),
        Chapter(title="Fits", facts=tuple(_fit(name, one) for name, one in behind.fits)),
        Chapter(title="Plan", facts=tuple(_plan(behind))),
        Chapter(title="Runs, and what does not count", facts=tuple(_runs(behind.record))),
        Chapter(title="Gauges", facts=behind.gauge, says="" if behind.gauge else NO_GAUGE),
        Chapter(
            title="Digests",
            facts=behind.files,
            says="SHA-256 of what the answer was computed from; what was changed has another.",
        ),
        Chapter(
            title="Decided so far",
            facts=behind.decided,
            says="" if behind.decided else "Nothing has been written into decisions.toml.",
        ),
    )


def _window(behind: Behind, window: Window) -> Iterator[Fact]:
    yield Fact(
        what="asked",
        found=f"{percent(window.share)} of parts, with {percent(window.confidence)} confidence",
    )
    yield Fact(
        what="found",
        found=f"{percent(window.lowest_share)} assured at the worst place in the window; chance "
        f"at the set point {percent(window.chance_at_set_point)}",
    )
    yield Fact(what="draws", found=f"{window.n_draws} processes, seed {window.seed}")
    right = behind.decision.if_right
    if window.model_form and not isinstance(right, NoWindow):
        said = "; ".join(f"{one.factor.name} {range_words(one)}" for one in right.limits)
        yield Fact(what="if the model form were exactly right (not used)", found=said)
    if behind.accepted:
        yield Fact(what="taken as straight between two levels", found=behind.accepted)
    for note in window.notes:
        yield Fact(what="holds on condition", found=note)


def _fit(name: str, fit: Fit | Unavailable) -> Fact:
    if isinstance(fit, Unavailable):
        return Fact(what=name, found=f"No model: {fit.reason}")
    settings = "settings as they were run" if fit.uses_as_run else "planned settings"
    said = [
        fit.model,
        f"{counted(np.unique(fit.run).size, 'run')}, {settings}.",
        _terms(fit),
        *_scatter(fit),
    ]
    if fit.n_excluded:
        said.append(f"{counted(fit.n_excluded, 'run')} left out by hand.")
    said += [f"Told as one number: {one.line}." for one in fit.aliased]
    return Fact(what=name, found=" ".join(said))


def _terms(fit: Fit) -> str:
    many = counted(sum(bool(str(term)) for term in fit.terms.terms), "term")
    return f"Terms asked for: {fit.terms.asked} ({many})." if fit.terms.asked else f"{many}."


def _scatter(fit: Fit) -> list[str]:
    sd = fit.residual_sd
    said = []
    if not isinstance(sd, Unavailable):
        unit = getattr(fit.outcome, "unit", "")
        scale = getattr(fit.outcome, "scale", "as read")
        size = f"{sd:.3g} on the {scale} scale"
        if scale == "as read":
            size = with_unit(float(f"{sd:.3g}"), unit)
        elif scale == "log":
            size = f"a factor of {math.exp(sd):.3g}"
        said.append(f"Runs scatter by {size} (one standard deviation).")
    if not isinstance(fit.error_df, Unavailable):
        said.append(f"{fit.error_df:.3g} degrees of freedom for error.")
    if not isinstance(fit.predicted_r_squared, Unavailable):
        said.append(f"Predicted R² {fit.predicted_r_squared:.2f}.".replace("-", "\u2212"))
    return said


def _plan(behind: Behind) -> Iterator[Fact]:
    trial, plan = behind.trial, behind.plan
    yield Fact(what="question", found=trial.question)
    if plan is None:
        yield Fact(what="plan", found="None: the runs were not planned here, or came as a table.")
    else:
        recipe = plan.recipe
        sizes = [counted(len(plan), "run"), f"{counted(plan.parts_per_run, 'part')} a run"]
        sizes += [counted(plan.n_blocks, "block")] if plan.n_blocks > 1 else []
        if any(factor.slow for factor in plan.settings.factors):
            sizes.append(f"{np.unique(plan.setup).size} resets of slow settings")
        yield Fact(what="plan", found=f"{recipe.kind}: {', '.join(sizes)}")
        yield Fact(what="seed of the order", found=str(recipe.seed))
        yield Fact(what="made by", found=f"workbench {recipe.version}")
    yield Fact(what="model asked for", found=trial.model or "the usual one of the plan")
    if trial.date:
        yield Fact(what="date of the trial", found=trial.date)
    if trial.people:
        yield Fact(what="people", found=", ".join(trial.people))


def _runs(record: Record) -> Iterator[Fact]:
    what = happened(record)
    yield Fact(
        what="runs",
        found=f"{int(record.used().sum())} count of {what.n_planned} planned",
    )
    left_out = [
        Fact(what=f"run {number}, {status}", found=reason or "no reason was written down")
        for number, status, reason in zip(record.run, record.status, record.reason, strict=True)
        if status is not Status.DONE
    ]
    yield from left_out or [Fact(what="left out", found="none")]
    for one in what.deviations[:MOST_OFF]:
        yield Fact(
            what=f"run {one.run}, off plan",
            found=f"{one.factor} planned {one.planned}, really {one.as_run}",
        )
    more = len(what.deviations) - MOST_OFF
    if more > 0:
        yield Fact(what="off plan too", found=counted(more, "more setting"))
