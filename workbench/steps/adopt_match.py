"""Which planned run each run of a table is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical, Role
from workbench.run.receipt import ReceiptLine
from workbench.steps.adopt_planned import matched, planned_of, planned_values, unused_columns

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.steps.adopt_layout import Layout
    from workbench.steps.adopt_nouns import FactorColumn, Planned
    from workbench.steps.adopt_planned import PlannedTable
    from workbench.steps.adopt_runs import Rows


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Match:
    """Planned settings (n, k) in run order, and the planned number of each run of the table."""

    planned: NDArray[np.float64]
    numbers: dict[int, int]
    lines: tuple[ReceiptLine, ...]


def planned_settings(layout: Layout, planned: PlannedTable | None) -> dict[str, Planned]:
    """Return the planned settings of each factor that was set on purpose, none without a plan."""
    if planned is None:
        return {}
    return {
        facts.name: planned_of(planned, facts, wish)
        for facts, wish in layout.factors
        if wish.role != Role.OBSERVED
    }


def match_runs(
    planned: PlannedTable,
    said: dict[str, Planned],
    *,
    rows: Rows,
    columns: Sequence[FactorColumn],
    by_number: bool,
) -> Match:
    """Return which planned run each run of the table is: by number, or by nearest settings.

    Raises
    ------
    OptionError
        If more runs were made than were planned and there are no numbers.
    """
    set_on_purpose = [column for column in columns if column.factor.name in said]
    factors = [column.factor for column in set_on_purpose]
    settings = planned_values(factors, [said[factor.name] for factor in factors])
    runs, first = np.unique(rows.run, return_index=True)
    if by_number:
        numbers = {int(run): int(run) for run in runs}
    else:
        # In the order of the table, so that identical planned runs are met in their order.
        in_order = np.argsort(first)
        runs, first = runs[in_order], first[in_order]
        as_run = np.column_stack([column.values[first] for column in set_on_purpose])
        found = matched(factors, as_run, settings)
        numbers = {int(run): int(one) for run, one in zip(runs, found, strict=True)}
    lines = (
        *planned.lines,
        _how(planned, len(runs), n_planned=len(settings), by_number=by_number),
        *_missing_lines(planned, numbers, factors, settings=settings),
        *unused_columns(planned, [factor.name for factor in factors]),
    )
    return Match(planned=settings, numbers=numbers, lines=lines)


def _how(planned: PlannedTable, n_runs: int, *, n_planned: int, by_number: bool) -> ReceiptLine:
    if by_number:
        return ReceiptLine(
            where=planned.table.source, met="run numbers", understood="planned runs by number"
        )
    return ReceiptLine(
        where=planned.table.source,
        met=f"{n_planned} planned runs; the table names no run numbers",
        understood=f"the {n_runs} runs made are matched to them by their settings",
        sure=False,
    )


def _missing_lines(
    planned: PlannedTable,
    numbers: dict[int, int],
    factors: Sequence[Factor],
    *,
    settings: NDArray[np.float64],
) -> list[ReceiptLine]:
    lines = []
    for run in sorted(set(range(1, len(settings) + 1)) - set(numbers.values())):
        shown = ", ".join(
            f"{factor.name} {_shown(factor, value)}"
            for factor, value in zip(factors, settings[run - 1], strict=True)
        )
        lines.append(
            ReceiptLine(
                where=planned.table.source,
                met=f"planned run {run} ({shown})",
                understood="missing: no row of the table is this run",
            )
        )
    lines += [
        ReceiptLine(
            where=planned.table.source,
            met=f"run {number} of the table",
            understood="a run that was not planned",
            sure=False,
        )
        for number in sorted(set(numbers.values()))
        if number > len(settings)
    ]
    return lines


def _shown(factor: Factor, value: float) -> str:
    return factor.levels[int(value)] if isinstance(factor, Categorical) else f"{value:g}"
