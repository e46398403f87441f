"""Receipts and what happened, in words and plain tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.cli.tables import Table, notes
from workbench.show.numbers import short

if TYPE_CHECKING:
    from workbench.run.checks import Happened
    from workbench.run.receipt import Receipt

MOST_DEVIATIONS = 12


def receipt_text(receipt: Receipt) -> str:
    """Return every assumption made on taking a table in, the unsure ones marked."""
    table = Table(
        head=("where", "met", "taken as", "sure"),
        rows=tuple(
            (line.where, line.met, line.understood, "yes" if line.sure else "NOT SURE")
            for line in receipt.lines
        ),
    )
    taken = f"{receipt.n_rows} rows taken; columns: {', '.join(receipt.columns)}"
    unsure = sum(not line.sure for line in receipt.lines)
    if not unsure:
        return f"{table}\n\n{taken}"
    return f"{table}\n\n{taken}\n{unsure} marked NOT SURE: look at {_them(unsure)} first."


def happened_text(what: Happened) -> str:
    """Return how many runs were made, what is missing, and what was not set as planned."""
    counts = f"{what.n_done} of {what.n_planned} planned runs done"
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


def _them(count: int) -> str:
    return "it" if count == 1 else "them"


def _shown(value: float | str) -> str:
    return value if isinstance(value, str) else short(value)
