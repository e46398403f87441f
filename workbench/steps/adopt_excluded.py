"""Runs that the user leaves out: found by number, or by block and number within it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import OptionError
from workbench.run.receipt import ReceiptLine

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.steps.adopt_layout import Layout
    from workbench.steps.adopt_made import Made
    from workbench.steps.adopt_options import Exclusion


@dataclass(frozen=True, slots=True, kw_only=True)
class Excluded:
    """A run left out, by the number it is kept under, with the reason and its receipt line."""

    run: int
    reason: str
    line: ReceiptLine


def excluded_runs(
    made: Made, layout: Layout, exclude: Sequence[Exclusion]
) -> tuple[Excluded, ...]:
    """Return the runs that options leave out.

    Raises
    ------
    OptionError
        If a run is not there, is named twice, or its number stands in several blocks.
    """
    found: dict[int, Excluded] = {}
    for one in exclude:
        row = _in_block(made, layout, one) if one.block else _by_number(made, layout, one)
        run = made.number[int(made.rows.run[row])]
        if run in found:
            raise OptionError(
                f"Run {one.run} is excluded twice.",
                why="One reason can be kept.",
                next_step="Name it once.",
                place="--exclude",
            )
        found[run] = Excluded(run=run, reason=one.reason, line=_line(made, layout, one, row=row))
    return tuple(found.values())


def _by_number(made: Made, layout: Layout, one: Exclusion) -> int:
    if _counts_in_blocks(made, layout):
        name = layout.run.name if layout.run else "run"
        raise OptionError(
            f"The run {one.run} of {name!r} may stand in every block.",
            why="A run is left out by its number, which counts within its block here.",
            next_step=f'Name the block as well: --exclude "BLOCK/{one.run}={one.reason}".',
            place=_place(one),
        )
    numbers = {made.number[int(made.rows.run[i])]: i for i in made.first_rows()}
    if one.run not in numbers:
        raise OptionError(
            f"There is no run {one.run}.",
            why="A run is left out by its number.",
            next_step=f"Use a number from {min(numbers)} to {max(numbers)}.",
            place=_place(one),
        )
    return numbers[one.run]


def _counts_in_blocks(made: Made, layout: Layout) -> bool:
    """Whether the numbers of the table come again in each block, so that runs are renumbered."""
    facts = layout.run
    if facts is None or facts.numbers is None or not layout.blocks:
        return False
    return not np.array_equal(facts.numbers, made.rows.run)


def _in_block(made: Made, layout: Layout, one: Exclusion) -> int:
    numbered = layout.run or layout.order
    if numbered is None or numbered.numbers is None:
        raise OptionError(
            f"Run {one.run} of {one.block!r}: no column numbers the runs within a block.",
            why="A run is left out by its number.",
            next_step=f"Write --exclude {one.run}=…, the place of its row.",
            place=_place(one),
        )
    numbers = numbered.numbers
    rows = [
        i for i in made.first_rows() if made.rows.block[i] == one.block and numbers[i] == one.run
    ]
    if len(rows) == 1:
        return rows[0]
    raise OptionError(
        f"{len(rows)} runs are number {one.run} of {one.block!r}.",
        why="A run is left out by its number within its block.",
        next_step=f"Blocks are: {', '.join(list(dict.fromkeys(made.rows.block))[:9])}; runs are "
        f"numbered by {numbered.name!r}.",
        place=_place(one),
    )


def _line(made: Made, layout: Layout, one: Exclusion, *, row: int) -> ReceiptLine:
    names = [*layout.blocks, *(f for f in (layout.run, layout.order) if f is not None)]
    said = ", ".join(f"{facts.name} {facts.texts[row]}" for facts in names)
    run = made.number[int(made.rows.run[row])]
    return ReceiptLine(
        where=f"{made.table.source}, row {made.table.rows[row].number}",
        met=_place(one) + (f" ({said})" if said else ""),
        understood=f"run {run} does not count: {one.reason}; its readings are kept",
        sure=bool(one.block) or layout.order is None,
    )


def _place(one: Exclusion) -> str:
    block = f"{one.block}/" if one.block else ""
    return f"--exclude {block}{one.run}={one.reason}"
