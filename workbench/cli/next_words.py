"""The next trial in words and plain tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.cli.tables import Table, folded
from workbench.define.written import setting
from workbench.errors import Unavailable
from workbench.show.next_trial import gain_words, place_words

if TYPE_CHECKING:
    from workbench.decide.next_trial import NextTrial
    from workbench.define.trial import Trial
    from workbench.steps.next_trial import NextAnswer, TakenRuns
    from workbench.steps.trials import OpenTrial


def next_text(found: NextAnswer, trial: Trial) -> str:
    """Return the candidates, the recommended one first, or why there is none."""
    if isinstance(found.next, Unavailable):
        return folded(f"Nothing to run next: {found.next.reason}.")
    head = folded(
        f"In the way: {found.next.obstacle.value}. Looked at: "
        f"{place_words(found.next.place, trial)}."
    )
    listed = [_candidate(one, trial) for one in found.next.trials]
    runnable = [one.kind for one in found.next.trials if len(one)]
    last = f"take one: workbench next DIR --take {runnable[0]}" if runnable else ""
    return "\n\n".join([head, *listed, *([last] if last else [])])


def taken_text(taken: TakenRuns, opened: OpenTrial) -> str:
    """Return what was written when a candidate was taken."""
    n = len(taken.plan)
    sheets = "\n".join(
        f"wrote {path}" for path in (taken.sheets.page, taken.sheets.table, taken.sheets.workbook)
    )
    return (
        f"{taken.trial.kind}: runs {taken.first_run} to {n} are block "
        f"{int(taken.plan.block[-1])} of the plan now (order drawn by seed {taken.seed}).\n"
        f"{sheets}\n"
        "next: run them, fill the sheet in, then workbench take "
        f"{opened.folder} TABLE"
    )


def _candidate(one: NextTrial, trial: Trial) -> str:
    sign = "→" if one.recommended else " "
    runs = f"{len(one)} runs" if len(one) else "no runs"
    lines = [
        f"{sign} {one.kind} ({runs}){', recommended' if one.recommended else ''}",
        folded(f"  {one.reason}", hanging="  "),
        folded(f"  settles: {one.settles}", hanging="    "),
        folded(f"  why: {one.why}", hanging="    "),
        *([folded(f"  changes: {gain_words(one.gain)}", hanging="    ")] if len(one) else []),
    ]
    if one.recommended and len(one):
        lines.append(_runs(one, trial))
    return "\n".join(lines)


def _runs(one: NextTrial, trial: Trial) -> str:
    factors = one.runs.factors
    rows = tuple(
        (point, *(_shown(trial, name, at) for name, at in row.items()))
        for point, row in zip(one.point, one.runs.as_dicts(), strict=True)
    )
    head = ("for", *(f"{f.name}, {f.unit}" if f.unit else f.name for f in factors))
    return str(Table(head=head, rows=rows, numbers=frozenset(range(1, len(head)))))


def _shown(trial: Trial, name: str, at: float | str) -> str:
    factor = trial.factor(name)
    return at if isinstance(at, str) else setting(factor, at)
