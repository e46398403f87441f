"""Cells and timers of one run in the record panel."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench.define.factors import Categorical
from workbench.define.units import convert, unit_kind
from workbench.define.waits import waiting_time
from workbench.files.held import reset_of, setting_of
from workbench.files.shown_values import shown_reading
from workbench.run.asked_resets import asked_resets
from workbench.run.finding import Weight
from workbench.run.record import Status
from workbench.steps.panel_nouns import PanelCell, PanelTimer

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from workbench.define.factors import Factor
    from workbench.define.trial import Trial
    from workbench.files.held import Held
    from workbench.run.finding import Finding
    from workbench.run.record import Record
    from workbench.steps.panel_nouns import PanelColumn

LONGEST_DWELL = 12 * 3600.0  # seconds; a longer setting is a day's plan, not a timer at the bench
_ORDER = {Weight.NOTE: 0, Weight.ASK: 1, Weight.CHECK: 2}
Place = tuple[int, str]  # run, factor or outcome


@dataclass(frozen=True, slots=True, kw_only=True)
class RunCells:
    """What the cells of one run are made from; settings in words by factor."""

    held: Held
    record: Record
    row: int
    flags: Mapping[Place, Finding]
    own: Mapping[str, str]
    before: Mapping[str, str]

    @property
    def run(self) -> int:
        """The number of the run."""
        return int(self.record.run[self.row])


def flags_of(found: Sequence[Finding]) -> dict[Place, Finding]:
    """Return the weightiest finding on each factor or outcome of each run."""
    flags: dict[Place, Finding] = {}
    for one in found:
        if not one.about:
            continue
        for run in one.runs:
            known = flags.get((run, one.about))
            if known is None or _ORDER[known.weight] < _ORDER[one.weight]:
                flags[run, one.about] = one
    return flags


def cells_of_run(which: RunCells, columns: Sequence[PanelColumn]) -> tuple[PanelCell, ...]:
    """Return the cells of one run, one a column."""
    trial = which.record.trial
    asked = asked_resets(which.record.plan) if which.record.plan is not None else ()
    settings = iter(trial.factors)
    resets = iter(asked)
    places = iter(_places(trial, columns))
    cells = []
    for column in columns:
        if column.kind == "setting":
            cells.append(_setting(which, next(settings)))
        elif column.kind == "reset":
            one = next(resets)
            is_open = which.run <= len(one.asked) and bool(one.asked[which.run - 1])
            said = str(which.held.of_run(which.run, reset_of(one.factor)) or "")
            cells.append(PanelCell(text=said, is_closed=not is_open))
        elif column.kind == "reading":
            cells.append(_reading(which, *next(places)))
        else:
            cells.append(_of_run(which, column.kind))
    return tuple(cells)


def _places(trial: Trial, columns: Sequence[PanelColumn]) -> list[tuple[str, int]]:
    """Return the outcome and part of each column of readings, in their order."""
    n_parts = sum(one.kind == "reading" for one in columns) // len(trial.outcomes)
    return [(one.name, part) for one in trial.outcomes for part in range(1, n_parts + 1)]


def _setting(which: RunCells, factor: Factor) -> PanelCell:
    said = which.held.of_run(which.run, setting_of(factor.name))
    is_known = which.held.runs.find((which.run, setting_of(factor.name))) is not None
    flag, words = _flag(which, factor.name)
    planned = which.own.get(factor.name, "")
    return PanelCell(
        text=("not known" if said is None else _words(said)) if is_known else "",
        planned=planned,
        is_new=bool(planned) and which.before.get(factor.name) != planned,
        flag=flag,
        said=words,
    )


def _words(value: float | str) -> str:
    return value if isinstance(value, str) else f"{value:.10g}"


def _reading(which: RunCells, outcome: str, part: int) -> PanelCell:
    found = which.held.reading((outcome, which.run, part, 1))
    if found is None:
        return PanelCell()
    flag, words = _flag(which, outcome)
    return PanelCell(text=_read(which, outcome, found), flag=flag, said=words)


def _read(which: RunCells, outcome: str, found: tuple[float, int]) -> str:
    shown = shown_reading(which.record.trial.outcome(outcome), found[0], 0)
    return f"{('<', '', '>')[found[1] + 1]}{_words(shown)}"


def _flag(which: RunCells, about: str) -> tuple[str, str]:
    found = which.flags.get((which.run, about))
    return ("", "") if found is None else (str(found.weight), found.words)


def _of_run(which: RunCells, kind: str) -> PanelCell:
    held, run = which.held, which.run
    if kind == "moment":
        return PanelCell(text=str(held.of_run(run, "made at") or "").replace("T", " "))
    if kind == "status":
        status = which.record.status[which.row]
        shown = "" if status is Status.MISSING else str(status)
        return PanelCell(text=shown, said=which.record.reason[which.row])
    return PanelCell(text=str(held.of_run(run, "note") or ""))


def timers_of_run(record: Record, row: int) -> tuple[PanelTimer, ...]:
    """Return the waits of a run: its settings in units of time, then those before a reading."""
    settings = record.planned if record.planned is not None else record.as_run
    dwells = (
        _dwell(factor, float(value))
        for factor, value in zip(record.trial.factors, settings.values[row], strict=True)
    )
    waits = ((one.name, waiting_time(one.wait)) for one in record.trial.outcomes)
    return (
        *(one for one in dwells if one is not None),
        *(
            PanelTimer(name=name, words=wait.words, seconds=wait.hours * 3600, after_run=True)
            for name, wait in waits
            if wait is not None
        ),
    )


def _dwell(factor: Factor, value: float) -> PanelTimer | None:
    if isinstance(factor, Categorical) or unit_kind(factor.unit) != "time":
        return None
    if not math.isfinite(value):
        return None
    seconds = convert(value, from_unit=factor.unit, to_unit="s")
    if not 1 <= seconds <= LONGEST_DWELL:
        return None
    words = f"{value:g} {factor.unit}"
    return PanelTimer(name=factor.name, words=words, seconds=seconds, after_run=False)
