"""Put a hand-over together, or say why nothing can be handed over."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.decide.handover import HandOver
from workbench.decide.handover_control import control_rows
from workbench.decide.handover_evidence import evidence
from workbench.decide.handover_instruction import work_instruction
from workbench.decide.handover_proof import proof_of, refuted_at, standing_words
from workbench.decide.handover_words import listed, promise_words
from workbench.decide.windows import NoWindow
from workbench.errors import Unavailable

if TYPE_CHECKING:
    from workbench.decide.handover_evidence import Behind
    from workbench.decide.verdict import Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class NoHandOver:
    """Nothing can be handed over: the reason, and what to do next, in sentences."""

    reason: str
    next_step: str


def hand_over(behind: Behind) -> HandOver | NoHandOver:
    """Return the hand-over of the widest window.

    Nothing is handed over without a window, nor with one that its own confirmation has refuted.
    """
    window = behind.decision.best
    if isinstance(window, NoWindow):
        return NoHandOver(reason=window.reason, next_step=window.next_trial)
    verdict = None if isinstance(behind.verdict, Unavailable) else behind.verdict
    failed = refuted_at(window, verdict)
    if failed:
        return _refuted(failed, verdict)
    proof = proof_of(window, verdict)
    return HandOver(
        trial=behind.trial,
        window=window,
        proof=proof,
        promise=promise_words(window),
        standing=standing_words(proof, window),
        instruction=work_instruction(behind.trial, window),
        control=control_rows(behind.trial, window),
        assured=behind.assured,
        evidence=evidence(behind, window),
        not_tested=behind.not_tested,
        written=behind.written,
    )


def _refuted(places: tuple[str, ...], verdict: Verdict | None) -> NoHandOver:
    to_do = "" if verdict is None else " ".join(verdict.to_do)
    return NoHandOver(
        reason=f"The confirmation says that the window does not hold: at {listed(places)} too "
        "many parts missed a requirement. Limits that were shown to fail are not handed over.",
        next_step=to_do or "Find out why, mend it, and confirm again with fresh parts.",
    )
