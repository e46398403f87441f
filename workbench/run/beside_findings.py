"""Findings on what is kept beside the readings: corrections, attached files."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.run.beside import FileState
from workbench.run.finding import Finding, Kind, Weight

if TYPE_CHECKING:
    from workbench.run.beside import Attached, Correction
    from workbench.run.record import Record


def beside_findings(record: Record) -> tuple[Finding, ...]:
    """Return each correction, and each attached file that is gone or not what it was."""
    return (
        *(_corrected(one) for one in record.corrections),
        *(_gone(one) for one in record.attachments if one.state is FileState.MISSING),
        *(_changed(one) for one in record.attachments if one.state is FileState.CHANGED),
    )


def _corrected(one: Correction) -> Finding:
    why = f": {one.reason.rstrip('.')}" if one.reason else "; no reason given"
    return Finding(
        kind=Kind.CORRECTED,
        runs=(one.run,),
        about=one.about,
        sentence=f"Run {one.run}, {one.thing}: {one.before} was replaced by {one.after} "
        f"({one.who}, {one.when[:10]}){why}.",
        weight=Weight.NOTE if one.reason else Weight.ASK,
    )


def _gone(one: Attached) -> Finding:
    return Finding(
        kind=Kind.FILE_GONE,
        runs=(one.run,),
        sentence=f"Run {one.run} names {one.path}, which is not in the trial folder.",
        next_step="Put it back under that name.",
        weight=Weight.CHECK,
    )


def _changed(one: Attached) -> Finding:
    return Finding(
        kind=Kind.FILE_CHANGED,
        runs=(one.run,),
        sentence=f"{one.path} of run {one.run} is not the file that was attached: its digest "
        "differs.",
        next_step="Put the original back, or attach the new one under a name of its own.",
        weight=Weight.CHECK,
    )
