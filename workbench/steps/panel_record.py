"""The record panel's sheet: every run in order, as the plan and the journal have it now."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench import files
from workbench.define.cautions import DEFERRAL, cautions_for
from workbench.define.hazards import hazards_of
from workbench.errors import RecordError
from workbench.files.record_files import held_now
from workbench.plan.starting import stopping_rule
from workbench.run.finding import Kind
from workbench.run.findings import findings
from workbench.run.record import Status
from workbench.show.tables import written_settings
from workbench.steps.panel_cells import RunCells, cells_of_run, flags_of, timers_of_run
from workbench.steps.panel_columns import columns_of_panel
from workbench.steps.panel_nouns import PanelCaution, PanelFinding, PanelRow, RecordSheet
from workbench.steps.trials import check_is_trial

if TYPE_CHECKING:
    from pathlib import Path

    from workbench.define.trial import Trial
    from workbench.files.held import Held
    from workbench.plan.plans import Plan
    from workbench.run.finding import Finding
    from workbench.run.record import Record
    from workbench.steps.panel_nouns import PanelColumn

# While runs are still being made these two say what the sheet itself shows.
_SEEN_ANYWAY = (Kind.MISSING, Kind.NO_OUTLIER_CHECK)


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelTrial:
    """A trial folder as the panel reads it; `problem` says where two writers differ."""

    trial: Trial
    plan: Plan | None
    record: Record
    held: Held
    problem: str


def read_for_panel(folder: Path) -> PanelTrial:
    """Read a trial folder; where two writers differ the latest is shown, and it is said.

    Raises
    ------
    WorkbenchError
        If the folder is no trial or one of its files cannot be understood.
    """
    check_is_trial(folder)
    trial = files.read_trial(folder)
    plan = files.read_plan(folder, trial)
    journal = files.read_journal(folder)
    problem = ""
    try:
        record = files.read_record(folder, trial, plan)
    except RecordError as met:
        problem = f"{met.wrong} {met.why} Write the right value into that cell, with a reason."
        record = files.read_record(folder, trial, plan, last_stands=True)
    held = held_now(journal, trial, last_stands=bool(problem))
    return PanelTrial(trial=trial, plan=plan, record=record, held=held, problem=problem)


def record_sheet(folder: Path) -> RecordSheet:
    """Return what the record panel shows of a trial folder.

    Raises
    ------
    WorkbenchError
        As `read_for_panel`.
    """
    read = read_for_panel(folder)
    trial, record = read.trial, read.record
    columns = columns_of_panel(record)
    found = tuple(one for one in findings(record) if one.kind not in _SEEN_ANYWAY)
    rows = _rows(read, columns, found)
    waiting = [row.run for row in rows if row.status == Status.MISSING]
    return RecordSheet(
        title=trial.title,
        invented=trial.invented,
        columns=columns,
        rows=rows,
        next_run=waiting[0] if waiting else 0,
        n_made=len(rows) - len(waiting),
        findings=tuple(map(_finding, found)),
        notes=record.notes,
        cautions=(
            *(PanelCaution(title=c.title, text=c.text) for c in cautions_for(hazards_of(trial))),
            *(PanelCaution(title="", text=words) for words in trial.cautions),
        ),
        deferral=DEFERRAL,
        held="; ".join(f"{one.name} {one.value} {one.unit}".rstrip() for one in trial.held),
        stop_rule=stopping_rule(trial).text,
        problem=read.problem,
    )


def _finding(one: Finding) -> PanelFinding:
    return PanelFinding(
        weight=str(one.weight), sentence=one.sentence, next_step=one.next_step, runs=one.runs
    )


def _rows(
    read: PanelTrial, columns: tuple[PanelColumn, ...], found: tuple[Finding, ...]
) -> tuple[PanelRow, ...]:
    record, plan = read.record, read.plan
    flags = flags_of(found)
    shown = written_settings(plan.settings) if plan is not None else []
    planned = [dict(zip(plan.settings.names, row, strict=True)) for row in shown] if plan else []
    rows = []
    for i, run in enumerate(record.run.tolist()):
        own = planned[run - 1] if run <= len(planned) else {}
        lead = _lead(read.trial, plan, run, own=own)
        # After a pause for a new block or setup every setting is set, as on the printed sheet.
        before = planned[run - 2] if 2 <= run <= len(planned) and not lead else {}
        rows.append(
            PanelRow(
                run=run,
                status=str(record.status[i]),
                lead=lead,
                block_label=str(read.held.of_run(run, "block") or ""),
                asks_block=_begins_block(plan, run),
                made_at=str(read.held.of_run(run, "made at") or ""),
                cells=cells_of_run(
                    RunCells(
                        held=read.held, record=record, row=i, flags=flags, own=own, before=before
                    ),
                    columns,
                ),
                timers=timers_of_run(record, i),
            )
        )
    return tuple(rows)


def _begins_block(plan: Plan | None, run: int) -> bool:
    if plan is None or plan.n_blocks < 2 or run > len(plan):
        return False
    return run == 1 or bool(plan.block[run - 1] != plan.block[run - 2])


def _lead(trial: Trial, plan: Plan | None, run: int, *, own: dict[str, str]) -> str:
    """Return what stands above the first run of a block or setup: what to set once."""
    if plan is None or run > len(plan):
        return ""
    said = [f"Block {int(plan.block[run - 1])}"] if _begins_block(plan, run) else []
    slow = [factor for factor in trial.planned_factors if factor.slow]
    is_first = run == 1 or plan.setup[run - 1] != plan.setup[run - 2]
    if slow and (is_first or said):
        settings = ", ".join(f"{one.name} {own[one.name]} {one.unit}".rstrip() for one in slow)
        said.append(f"Setup {int(plan.setup[run - 1])}: {settings}; set once")
    return "; ".join(said)
