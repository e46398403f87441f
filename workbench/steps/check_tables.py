"""The files that are made from the journal and the plan, held against both."""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING, Any

from workbench import files
from workbench.errors import WorkbenchError
from workbench.files.decisions import NAME as DECISIONS
from workbench.files.decisions import read_decisions, read_questions
from workbench.files.results_csv import NAME as RESULTS
from workbench.files.results_csv import holds_text, results_text
from workbench.files.toml_text import MOST_BYTES
from workbench.steps.check_nouns import Remark, Remarks, remark
from workbench.steps.take_plan import check_plan_of_sheet

if TYPE_CHECKING:
    from pathlib import Path

    from workbench.plan.plans import Plan
    from workbench.run.record import Record

SHEETS = ("run_sheet.xlsx",)


def results_remarks(folder: Path, record: Record | None) -> Remarks:
    """Return whether results.csv was edited by hand, or is not what the journal says now."""
    try:
        files.check_results_untouched(folder)
    except WorkbenchError as edited:
        return Remarks(mend=(remark(edited, place=RESULTS),))
    if record is None or not (folder / RESULTS).is_file():
        return Remarks()
    try:
        is_fresh = holds_text(folder, results_text(record))
    except OSError as met:
        return Remarks(mend=(_unreadable(RESULTS, met),))
    if is_fresh:
        return Remarks()
    stale = Remark(
        place=RESULTS,
        wrong="The table is older than the journal, the plan or trial.toml.",
        why="Nothing is lost: it is made from them, and is made again when results come in.",
        next_step="Read the journal (workbench fit, workbench export), not this table.",
    )
    return Remarks(notes=(stale,))


def decision_remarks(folder: Path) -> Remarks:
    """Return every entry of decisions.toml that is not understood, and odd keys."""
    path = folder / DECISIONS
    try:
        if path.is_file() and path.stat().st_size > MOST_BYTES:
            return Remarks(mend=(_too_large(path),))
        read_decisions(folder)
        read_questions(folder)
    except OSError as met:
        return Remarks(mend=(_unreadable(DECISIONS, met),))
    except WorkbenchError as first:
        return Remarks(mend=_each_decision(path) or (remark(first, place=DECISIONS),))
    return Remarks()


def sheet_remarks(folder: Path, plan: Plan | None) -> Remarks:
    """Return whether a run sheet in the folder was written for another plan."""
    notes = []
    for name in SHEETS:
        if not (folder / name).is_file():
            continue
        try:
            check_plan_of_sheet(files.read_table(folder / name), plan, folder)
        except WorkbenchError as met:
            notes.append(remark(met, place=name))
    return Remarks(notes=tuple(notes))


def _each_decision(path: Path) -> tuple[Remark, ...]:
    try:
        written: dict[str, Any] = tomllib.loads(path.read_text(encoding="utf-8"))
    except (ValueError, RecursionError):
        return ()
    entries = written.get("decision", [])
    if not isinstance(entries, list):
        return ()
    keys = ("what", "reason", "by", "at")
    return tuple(
        Remark(
            place=f"{DECISIONS}, entry {number}",
            wrong="The entry is not understood.",
            why="Each [[decision]] says what, reason, by and at, each in quotes.",
            next_step="Mend the entry, or put the file aside.",
        )
        for number, one in enumerate(entries, start=1)
        if not isinstance(one, dict) or not all(isinstance(one.get(key), str) for key in keys)
    )


def _too_large(path: Path) -> Remark:
    return Remark(
        place=DECISIONS,
        wrong=f"The file has {path.stat().st_size / 1e6:.1f} MB.",
        why=f"Decisions are a few sentences; at most {MOST_BYTES / 1e6:g} MB are read.",
        next_step="Check that it is the right file.",
    )


def _unreadable(name: str, met: OSError) -> Remark:
    return Remark(
        place=name,
        wrong=f"The file cannot be read: {met.strerror or met}.",
        why="What it says cannot be checked.",
        next_step="See that you may read it.",
    )
