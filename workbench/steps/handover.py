"""Hand a window over: gather what stands behind it, write the page and the workbook."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench import __version__, files, show
from workbench.decide.handover import Assured, Fact
from workbench.decide.handover_evidence import Behind
from workbench.decide.handover_made import NoHandOver, hand_over
from workbench.decide.handover_words import required
from workbench.decide.verdict import Verdict
from workbench.decide.windows import NoWindow
from workbench.files.decisions import read_decisions
from workbench.files.digests import text_digest
from workbench.files.handover_xlsx import write_handover_xlsx
from workbench.files.journal_ends import read_ends
from workbench.files.plan_files import plan_digest
from workbench.files.toml_text import read_text
from workbench.steps.caveats import not_tested
from workbench.steps.confirm import locked_confirmation, parts_folder
from workbench.steps.confirm_state import confirmation_state
from workbench.steps.fitting import fit_all
from workbench.steps.people import now
from workbench.steps.promises import promises
from workbench.steps.windows import find_window

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from workbench.decide.handover import HandOver
    from workbench.decide.windows import Decision
    from workbench.errors import Unavailable
    from workbench.files.confirmation_file import LockedConfirmation
    from workbench.steps.trials import OpenTrial
    from workbench.steps.windows import WindowAnswer

PAGE = "handover.html"


@dataclass(frozen=True, slots=True, kw_only=True)
class ConfirmationSoFar:
    """A confirmation that was locked, and its verdict or why there is none."""

    locked: LockedConfirmation
    verdict: Verdict | Unavailable


@dataclass(frozen=True, slots=True, kw_only=True)
class HandedOver:
    """A hand-over and where it was written."""

    made: HandOver
    page: Path
    workbook: Path


def write_handover(
    opened: OpenTrial,
    *,
    share: float | None = None,
    confidence: float | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> HandedOver | NoHandOver:
    """Write handover.html and handover.xlsx into the trial's folder, or say why not.

    Nothing is written where there is no window, or its own confirmation has refuted it.

    Raises
    ------
    WorkbenchError
        If share or confidence are stated nowhere, no run has a result, or a file cannot be
        written.
    """
    answer = find_window(opened, share=share, confidence=confidence, progress=progress)
    made = hand_over_of(opened, answer, confirmation_so_far(opened.folder))
    if isinstance(made, NoHandOver):
        return made
    page = opened.folder / PAGE
    workbook = write_handover_xlsx(opened.folder, made)
    files.write_text_atomically(page, show.hand_over(made))
    return HandedOver(made=made, page=page, workbook=workbook)


def hand_over_of(
    opened: OpenTrial,
    answer: WindowAnswer,
    confirmation: ConfirmationSoFar | None = None,
) -> HandOver | NoHandOver:
    """Return the hand-over of a window that was found, with the confirmation if there is one."""
    decision = answer.decision
    if isinstance(decision, NoWindow):
        return NoHandOver(reason=decision.reason, next_step=decision.next_trial)
    return hand_over(_behind(opened, answer, decision, confirmation=confirmation))


def confirmation_so_far(folder: Path) -> ConfirmationSoFar | None:
    """Return the confirmation of a trial and its verdict, as far as either is there.

    Raises
    ------
    WorkbenchError
        If confirmation.toml was changed after it was locked, or cannot be read.
    """
    locked, state = locked_confirmation(folder), confirmation_state(folder)
    if locked is None or state is None:
        return None
    return ConfirmationSoFar(locked=locked, verdict=state.verdict)


def _behind(
    opened: OpenTrial,
    answer: WindowAnswer,
    decision: Decision,
    *,
    confirmation: ConfirmationSoFar | None,
) -> Behind:
    verdict = None if confirmation is None else confirmation.verdict
    is_judged = isinstance(verdict, Verdict)
    return Behind(
        trial=opened.trial,
        plan=opened.plan,
        record=opened.record,
        fits=tuple((one.outcome.name, one.fit) for one in fit_all(opened)),
        decision=decision,
        assured=_assured(opened, answer),
        files=tuple(_digests(opened, confirmation)),
        decided=_decided(opened),
        not_tested=not_tested(opened, answer, was_built=is_judged),
        written=f"{now()}, workbench {__version__}",
        accepted=answer.accepted,
        locked=None if confirmation is None else confirmation.locked.plan,
        verdict=verdict,
    )


def _assured(opened: OpenTrial, answer: WindowAnswer) -> tuple[Assured, ...]:
    return tuple(
        Assured(
            outcome=one.outcome,
            requirement=required(opened.trial.outcome(one.outcome)) if one.outcome else "",
            chance=one.at_set_point,
            lowest=one.lowest,
        )
        for one in promises(answer)
    )


def _digests(opened: OpenTrial, confirmation: ConfirmationSoFar | None) -> Iterator[Fact]:
    trial = opened.folder / "trial.toml"
    yield Fact(what="trial.toml", found=_bare(text_digest(read_text(trial))))
    if opened.plan is not None:
        yield Fact(what="plan.csv", found=_bare(plan_digest(opened.plan)))
    for writer, end in read_ends(opened.folder).items():
        yield Fact(what=f"journal of {writer}, entry {end.sequence}", found=_bare(end.digest))
    if confirmation is not None:
        yield Fact(what="confirmation.toml", found=_bare(confirmation.locked.digest))
        for writer, end in read_ends(parts_folder(opened.folder)).items():
            what = f"journal of the confirmation, {writer}, entry {end.sequence}"
            yield Fact(what=what, found=_bare(end.digest))


def _bare(digest: str) -> str:
    return digest.removeprefix("sha256:")


def _decided(opened: OpenTrial) -> tuple[Fact, ...]:
    return tuple(
        Fact(
            what=f"{one.at[:10]}, {one.by}",
            found=f"{one.what}: {one.reason}" if one.reason else one.what,
        )
        for one in read_decisions(opened.folder)
    )
