"""What really happened against the plan: counts, settings off, and every finding."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.run.findings import findings
from workbench.run.record import Status
from workbench.run.settings_off import deviations
from workbench.run.statuses import runs_with

if TYPE_CHECKING:
    from workbench.run.finding import Finding
    from workbench.run.record import Record
    from workbench.run.settings_off import Deviation


@dataclass(frozen=True, slots=True, kw_only=True)
class Happened:
    """What became of the runs: counts, run numbers, deviations, findings, notes in sentences.

    `notes` are the words of the findings and those of the record.
    """

    n_planned: int
    n_done: int
    n_failed: int
    n_excluded: int
    missing: tuple[int, ...]
    deviations: tuple[Deviation, ...]
    notes: tuple[str, ...]
    findings: tuple[Finding, ...] = ()


def happened(record: Record) -> Happened:
    """Return what became of the runs against the plan (against themselves if there is none)."""
    found = findings(record)
    count = record.status.count
    return Happened(
        n_planned=len(record.plan) if record.plan else len(record),
        n_done=count(Status.DONE),
        n_failed=count(Status.FAILED),
        n_excluded=count(Status.EXCLUDED),
        missing=runs_with(record, Status.MISSING),
        deviations=deviations(record),
        notes=(*(one.words for one in found), *record.notes),
        findings=found,
    )
