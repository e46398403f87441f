"""The run sheet: what the line sets next and where it writes what it saw, on paper."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical
from workbench.define.outcomes import Graded, Measured, PassFail
from workbench.plan.plans import CONFIRMATION
from workbench.run.asked_resets import asked_resets, reset_heading
from workbench.show.cautions import caution_blocks, caution_count, deferral
from workbench.show.escape import text
from workbench.show.numbers import short, unit_of, with_unit
from workbench.show.sheet_start import start, time_cells, time_heads, waits_of
from workbench.show.style import MARK, style_sheet
from workbench.show.tables import written_settings
from workbench.show.words import counted

if TYPE_CHECKING:
    from workbench.define.outcomes import Outcome
    from workbench.define.trial import Trial
    from workbench.plan.plans import Plan

MOST_UPRIGHT = 13  # columns of settings and boxes that fit the paper upright
PARTS = "abcdefghijklmnopqrstuvwxyz"


def run_sheet(trial: Trial, plan: Plan) -> str:
    """Return a whole page of HTML to print: runs in order, boxes, cautions, when to stop."""
    boxes = len(trial.outcomes) * _n_boxes(plan) + _n_times(trial) + len(asked_resets(plan))
    is_wide = boxes + len(plan.settings.factors) > MOST_UPRIGHT
    name = text(trial.title)
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width,initial-scale=1">'
        f"<title>{name}: run sheet</title><style>{style_sheet()}</style></head>"
        f'<body><main class="sheet{" wide" if is_wide else ""}">'
        f"{_heading(trial, plan)}{_before(trial)}{start(trial, plan)}"
        f"{_runs(trial, plan)}{_after(trial)}"
        "</main></body></html>"
    )


def _heading(trial: Trial, plan: Plan) -> str:
    parts = len(plan) * plan.parts_per_run
    what = [counted(len(plan), "run")]
    if plan.n_blocks > 1:
        what.append(counted(plan.n_blocks, "block"))
    if _is_set_up(plan):
        what.append(counted(int(np.unique(plan.setup).size), "setup"))
    what.append(counted(parts, "part"))
    invented = f'<p class="invented">{text(trial.invented)}</p>' if trial.invented else ""
    return (
        f'<div class="foot top"><span>{MARK}</span><span>{_plan_name(trial, plan)}</span></div>'
        f"<h1>Run sheet: {', '.join(what)}</h1>{invented}"
        "<p>Top to bottom, in this order; the order was drawn by lot. <b>▸ bold</b>: change this "
        "setting. Grey: leave it. Tick when set. Write what you really set if it differs. "
        f"{_if_spoiled(plan)}; never guess a value.</p>"
    )


def _if_spoiled(plan: Plan) -> str:
    if plan.recipe.kind == CONFIRMATION:
        return "A part that breaks or cannot be made counts: write “failed” and how"
    return "A spoiled run: strike it through and say why"


def _plan_name(trial: Trial, plan: Plan) -> str:
    return text(f"{trial.title}: {plan.recipe.kind}, seed {plan.recipe.seed}")


def _before(trial: Trial) -> str:
    """Return cautions and held settings: what must be known before the first run."""
    held = "; ".join(f"{one.name} {with_unit(one.value, one.unit)}" for one in trial.held)
    written = f"<p><b>Keep constant:</b> {text(held)}.</p>" if held else ""
    if not caution_count(trial):
        return written
    return f'<section class="before">{caution_blocks(trial)}{deferral()}</section>{written}'


def _after(trial: Trial) -> str:
    none = "" if caution_count(trial) else str(deferral())
    return (
        '<div class="foot"><span><b>Stop and ask</b> if anything looks, smells or sounds wrong, '
        "and say what.</span>"
        "<span>Made by: ______________ &nbsp; Date: ______________</span></div>"
        f"{none}"
    )


def _runs(trial: Trial, plan: Plan) -> str:
    width = 4 + len(plan.settings.factors) + len(trial.outcomes) * _n_boxes(plan)
    width += _n_times(trial) + len(asked_resets(plan))
    shown = written_settings(plan.settings)
    bodies = []
    before: list[str] | None = None
    for (block, setup), group in groupby(range(len(plan)), key=lambda i: _group(plan, i)):
        rows: list[str] = []
        lead = _lead(plan, (block, setup), width=width)
        for i in group:
            start = before is None or (bool(lead) and not rows)
            rows.append(
                _run(trial, plan, i, cells=_cells(plan, shown[i], None if start else before))
            )
            before = _held(plan, shown[i])
        bodies.append(f"<tbody>{lead}{''.join(rows)}</tbody>")
    head = _head(trial, plan, width=width)
    caption = '<caption class="unseen">Runs in order</caption>'
    return f'<table class="run">{caption}{head}{"".join(bodies)}</table>'


def _held(plan: Plan, shown: list[str]) -> list[str]:
    """Return the settings that stay as they are for the next run: in a confirmation slow ones."""
    if plan.recipe.kind != CONFIRMATION:
        return shown
    return [
        value if factor.slow else ""
        for factor, value in zip(plan.settings.factors, shown, strict=True)
    ]


def _group(plan: Plan, i: int) -> tuple[int, int]:
    return int(plan.block[i]), int(plan.setup[i]) if _is_set_up(plan) else 0


def _is_set_up(plan: Plan) -> bool:
    return any(factor.slow for factor in plan.settings.factors)


def _head(trial: Trial, plan: Plan, *, width: int) -> str:
    settings = "".join(
        f'<th scope="col" class="n">{text(one.name)}<br>{text(one.unit)}</th>'
        for one in plan.settings.factors
    )
    readings = "".join(_reading_head(one, plan) for one in trial.outcomes)
    return (
        f'<thead><tr class="again"><th colspan="{width}">{_plan_name(trial, plan)}</th></tr>'
        f'<tr><th scope="col" class="n">run</th>{settings}<th scope="col">set</th>'
        f'{_reset_heads(plan)}<th scope="col">really set,<br>if different</th>'
        f"{time_heads(trial)}{readings}"
        '<th scope="col">note, who</th></tr></thead>'
    )


def _reset_heads(plan: Plan) -> str:
    """Return a heading for each slow setting that stays over runs: tick if it was set anew."""
    return "".join(
        f'<th scope="col">{text(reset_heading(one.factor))}<br>tick if yes</th>'
        for one in asked_resets(plan)
    )


def _reset_cells(plan: Plan, i: int) -> str:
    tick = '<span class="tick"></span>'
    return "".join(f"<td>{tick if one.asked[i] else ''}</td>" for one in asked_resets(plan))


def _reading_head(outcome: Outcome, plan: Plan) -> str:
    boxes = _n_boxes(plan)
    its_unit = unit_of(outcome)
    head = f"{outcome.name}, {its_unit}" if its_unit else outcome.name
    hints = [_parts_hint(boxes), _write_hint(outcome), outcome.wait]
    lines = "<br>".join(text(one) for one in (head, *hints) if one)
    return f'<th scope="colgroup" colspan="{boxes}">{lines}</th>'


def _parts_hint(boxes: int) -> str:
    return f"parts {' '.join(PARTS[:boxes])}" if 1 < boxes <= len(PARTS) else ""


def _write_hint(outcome: Outcome) -> str:
    if isinstance(outcome, Measured):
        ends = []
        if outcome.gauge_low is not None:
            ends.append(f"< {short(outcome.gauge_low)}")
        if outcome.gauge_high is not None:
            ends.append(f"> {short(outcome.gauge_high)}")
        return f"off the gauge: write {' or '.join(ends)}" if ends else ""
    if isinstance(outcome, PassFail):
        return f"{outcome.passes} or {outcome.fails}"
    if isinstance(outcome, Graded):
        return ", ".join(outcome.grades)
    return f"out of {outcome.out_of}" if outcome.out_of else ""


def _n_boxes(plan: Plan) -> int:
    return max(1, plan.parts_per_run)


def _n_times(trial: Trial) -> int:
    waits = waits_of(trial)
    return len(waits) + 1 if waits else 0


def _lead(plan: Plan, group: tuple[int, int], *, width: int) -> str:
    """Return the line before a block or setup: what to set once, what to write down."""
    block, setup = group
    said = []
    if plan.is_blocked:
        said.append(f"Block {block}: which lot, shift or day? ____________")
    if setup:
        first = int(np.flatnonzero(plan.setup == setup)[0])
        shown = written_settings(plan.settings)[first]
        slow = [
            f"{one.name} {with_unit(value, one.unit)}"
            for one, value in zip(plan.settings.factors, shown, strict=True)
            if one.slow
        ]
        said.append(f"Setup {setup}: {', '.join(slow)}. Set once, read: ________ time: ________")
    if not said:
        return ""
    words = text("; ".join(said))
    return f'<tr class="load"><th scope="rowgroup" colspan="{width}">{words}</th></tr>'


def _cells(plan: Plan, shown: list[str], before: list[str] | None) -> str:
    written = []
    for j, (factor, value) in enumerate(zip(plan.settings.factors, shown, strict=True)):
        state = "same" if before is not None and before[j] == value else "new"
        side = "level " if isinstance(factor, Categorical) else "n "
        written.append(f'<td class="{side}{state}">{text(value)}</td>')
    return "".join(written)


def _run(trial: Trial, plan: Plan, i: int, *, cells: str) -> str:
    boxes = len(trial.outcomes) * _n_boxes(plan)
    readings = '<td class="box"></td>' * boxes
    return (
        f'<tr><th scope="row" class="n">{plan.first_run + i}</th>{cells}'
        f'<td><span class="tick"></span></td>{_reset_cells(plan, i)}<td class="box real"></td>'
        f'{time_cells(trial)}{readings}<td class="box note"></td></tr>'
    )
