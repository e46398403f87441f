"""Find the window of an open trial, or say why there is none."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from workbench import decide, fit
from workbench.decide.straightness import two_level_factors
from workbench.decide.windows import NoWindow
from workbench.decide.wishes import BoxWish
from workbench.define.outcomes import is_judged
from workbench.errors import DecisionError, OptionError, Unavailable
from workbench.files.decisions import DecisionEntry, add_decision, read_decisions
from workbench.steps.fitting import fit_all
from workbench.steps.people import now, who_is_it

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from workbench.decide.windows import Decision, Window
    from workbench.fit.faces import Fit
    from workbench.steps.fitting import OutcomeFit
    from workbench.steps.trials import OpenTrial

NO_WISH = BoxWish()
STRAIGHT = "lines between two levels are taken as straight"


@dataclass(frozen=True, slots=True, kw_only=True)
class Promise:
    """What a window must keep: the share of new parts and the confidence in it, both stated."""

    share: float
    confidence: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WindowAnswer:
    """The decision, or why none could be sought, with the fits behind it.

    `accepted` is the written reason for taking lines between two levels as straight; empty where
    the runs themselves can show a bend, or nobody has accepted anything. `boundary` is the model
    of where a part can be made at all, or why there is none; None if no run failed outright.
    `seed` and `wish` are those with which the window was sought.
    """

    decision: Decision | NoWindow
    fits: tuple[Fit, ...]
    accepted: str
    boundary: Fit | Unavailable | None = None
    seed: int = 0
    wish: BoxWish = NO_WISH

    @property
    def judged(self) -> tuple[Fit, ...]:
        """All that the decision rests on: the fits, and the boundary where there is one."""
        if self.boundary is None or isinstance(self.boundary, Unavailable):
            return self.fits
        return (*self.fits, self.boundary)

    @property
    def best(self) -> Window | NoWindow:
        """The widest window, or the reason for none."""
        return self.decision if isinstance(self.decision, NoWindow) else self.decision.best


def find_window(
    opened: OpenTrial,
    *,
    share: float | None = None,
    confidence: float | None = None,
    seed: int | None = None,
    accept_straight: str = "",
    wish: BoxWish = NO_WISH,
    progress: Callable[[int, int], None] | None = None,
) -> WindowAnswer:
    """Find the widest box of set values in which every requirement holds.

    `share`, `confidence` and `seed` stand instead of those in trial.toml; `accept_straight` is
    kept in decisions.toml; `wish` says what is held and what the size counts. A requirement on
    an outcome without a model leaves the question open.
    Where runs failed outright the window keeps clear of where a part may not be made at all.

    Raises
    ------
    WorkbenchError
        If share or confidence are stated nowhere, no outcome has a requirement, or no run has a
        result.
    """
    promise = Promise(
        share=_stated("share", share, opened.trial.share),
        confidence=_stated("confidence", confidence, opened.trial.confidence),
    )
    judged = _judged(opened)
    fitted = fit_all(opened, outcomes=judged)
    fits = tuple(one.fit for one in fitted if not isinstance(one.fit, Unavailable))
    if accept_straight.strip():
        _accept(opened.folder, accept_straight.strip())
    straight = any(two_level_factors(one.settings) for one in fits)
    accepted = accepted_straightness(opened.folder) if straight else ""
    open_question = _without_a_model(fitted, promise)
    if open_question is not None:
        return WindowAnswer(decision=open_question, fits=fits, accepted=accepted)
    made = fit.boundary(opened.record)
    seed = opened.trial.seed if seed is None else seed
    decision = decide.window(
        fits if made is None or isinstance(made, Unavailable) else (*fits, made),
        share=promise.share,
        confidence=promise.confidence,
        seed=seed,
        constraints=opened.trial.constraints,
        straightness_accepted=accepted,
        held=dict(wish.held),
        within={name: (low, high) for name, low, high in wish.within},
        weights=dict(wish.weights),
        size_in=wish.size_in,
        progress=progress,
    )
    return WindowAnswer(
        decision=_said(decision, opened, made),
        fits=fits,
        accepted=accepted,
        boundary=made,
        seed=seed,
        wish=wish,
    )


def accepted_straightness(folder: Path) -> str:
    """Return the written reason for taking lines as straight, the latest; empty if none."""
    entries = [one for one in read_decisions(folder) if one.what == STRAIGHT]
    return f"{entries[-1].reason} ({entries[-1].by}, {entries[-1].at[:10]})" if entries else ""


def _said(decision: Decision, opened: OpenTrial, made: Fit | Unavailable | None) -> Decision:
    """Return the decision with what runs that failed outright have to do with it."""
    words = fit.boundary_words(opened.record)
    if not words:
        return decision
    if isinstance(made, Unavailable):
        words = (
            f"{words.partition(':')[0]}, and no boundary can be fitted ({made.reason}): the "
            "window does not keep clear of where they failed. Look at their settings."
        )
    best = replace(decision.best, notes=(words, *decision.best.notes))
    return replace(decision, best=best)


def _judged(opened: OpenTrial) -> list[str]:
    judged = [one.name for one in opened.trial.outcomes if is_judged(one)]
    if judged:
        return judged
    raise DecisionError(
        "No outcome of this trial has a requirement.",
        why="A window holds requirements; without one every setting would do.",
        next_step="State at_least, at_most, between or target for an outcome in trial.toml.",
        place=str(opened.folder / "trial.toml"),
    )


def _stated(name: str, option: float | None, in_trial: float | None) -> float:
    value = in_trial if option is None else option
    if value is None:
        raise OptionError(
            f"No {name} is stated.",
            why=f"How much must be promised is yours to say; there is no usual {name}.",
            next_step=f"Give --{name} 0.95 (or another), or write {name} = 0.95 in trial.toml.",
        )
    if not 0.5 <= value < 1:
        raise OptionError(
            f"The {name} is {value:g}.",
            why="It is a part of one, such as 0.95; at 1 no trial could promise it.",
            next_step="Write a number from 0.5 to below 1.",
            place=f"--{name}",
        )
    return value


def _accept(folder: Path, reason: str) -> None:
    last = [one for one in read_decisions(folder) if one.what == STRAIGHT]
    if last and last[-1].reason == reason:
        return
    add_decision(folder, DecisionEntry(what=STRAIGHT, reason=reason, by=who_is_it(""), at=now()))


def _without_a_model(fitted: tuple[OutcomeFit, ...], promise: Promise) -> NoWindow | None:
    missing = [
        f"{one.outcome.name} ({one.fit.reason})"
        for one in fitted
        if isinstance(one.fit, Unavailable)
    ]
    if not missing:
        return None
    return NoWindow(
        reason=f"A requirement cannot be judged: {'; '.join(missing)}.",
        share=promise.share,
        confidence=promise.confidence,
        nearest_miss=None,
        next_trial="Give every outcome that has a requirement a measured reading, or take its "
        "requirement out of trial.toml and judge it apart.",
    )
