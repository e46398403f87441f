"""Receipts and what happened, in words and plain tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.cli.tables import Table, folded, notes
from workbench.define.written import short

if TYPE_CHECKING:
    from workbench.run.checks import Happened
    from workbench.run.receipt import Receipt

MOST_DEVIATIONS = 12
SURE, UNSURE = "-", "?"


def receipt_text(receipt: Receipt) -> str:
    """Return every assumption made on taking a table in, the unsure ones marked and first."""
    lines = [
        folded(
            f"{SURE if line.sure else UNSURE} {line.where}: {line.met} → {line.understood}",
            hanging="  ",
        )
        for line in sorted(receipt.lines, key=lambda line: line.sure)
    ]
    lines.append(
        folded(f"{receipt.n_rows} rows taken; columns: {', '.join(receipt.columns)}", hanging="  ")
    )
    unsure = sum(not line.sure for line in receipt.lines)
    if unsure:
        lines.append(f"{unsure} marked {UNSURE}: another reading is thinkable, look there first.")
    return "\n".join(lines)


def happened_text(what: Happened, *, has_plan: bool) -> str:
    """Return how many runs were made, what is missing, and what was not set as planned."""
    planned = f"of {what.n_planned} planned runs" if has_plan else "runs"
    counts = f"{what.n_done} {planned} done"
    others = ((what.n_failed, "failed"), (what.n_excluded, "excluded"))
    said = ", ".join([counts, *(f"{n} {word}" for n, word in others if n)])
    if what.missing:
        said += f"; missing: run {', '.join(str(run) for run in what.missing)}"
    lines = [said]
    if what.deviations:
        lines.append(_deviations(what))
    lines.append(notes(what.notes))
    return "\n".join(line for line in lines if line)


def _deviations(what: Happened) -> str:
    shown = what.deviations[:MOST_DEVIATIONS]
    table = Table(
        head=("run", "not set as planned", "planned", "as run", "in setting sd"),
        rows=tuple(
            (
                str(one.run),
                one.factor,
                _shown(one.planned),
                _shown(one.as_run),
                "" if one.in_sd is None else short(one.in_sd, 2),
            )
            for one in shown
        ),
        numbers=frozenset({0, 2, 3, 4}),
    )
    more = len(what.deviations) - len(shown)
    return f"{table}\nand {more} more" if more > 0 else str(table)


def _shown(value: float | str) -> str:
    return value if isinstance(value, str) else short(value)
