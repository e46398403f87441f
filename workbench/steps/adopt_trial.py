"""A table with its layout to a trial, its plan, and the entries of its journal."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from workbench import __version__
from workbench.define.algebra import parse_terms
from workbench.define.settings import Settings
from workbench.define.terms import Terms
from workbench.define.trial import Budget, Trial
from workbench.errors import OptionError
from workbench.plan.plans import Plan, Recipe
from workbench.steps.adopt_entries import run_statuses, table_of
from workbench.steps.adopt_excluded import excluded_runs
from workbench.steps.adopt_made import Made
from workbench.steps.adopt_match import match_runs, planned_settings
from workbench.steps.adopt_model import model_of
from workbench.steps.adopt_nesting import codes_of
from workbench.steps.adopt_nouns import factor_column, held_setting, outcome_column
from workbench.steps.adopt_runs import rows_of, settings_codes
from workbench.steps.adopt_together import together_lines

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.files.raw_table import RawTable
    from workbench.files.table_entry import TableEntry
    from workbench.run.receipt import ReceiptLine
    from workbench.steps.adopt_layout import Layout
    from workbench.steps.adopt_match import Match
    from workbench.steps.adopt_nouns import FactorColumn
    from workbench.steps.adopt_options import AdoptOptions
    from workbench.steps.adopt_planned import PlannedTable
    from workbench.steps.adopt_runs import Rows

SEED = 1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Understood:
    """What a table was taken to mean: nothing is written yet."""

    trial: Trial
    plan: Plan | None
    entry: TableEntry
    lines: tuple[ReceiptLine, ...]


def understood(
    table: RawTable, layout: Layout, options: AdoptOptions, *, planned: PlannedTable | None
) -> Understood:
    """Return the trial in a table.

    Raises
    ------
    WorkbenchError
        If a cell, option or planned run does not fit.
    """
    said = planned_settings(layout, planned)
    columns = [
        factor_column(table, facts, wish, planned=said.get(facts.name))
        for facts, wish in layout.factors
    ]
    rows = rows_of(table, layout, columns, repeats=options.repeats)
    factors = tuple(_factor(column, rows) for column in columns)
    values = np.column_stack([column.values for column in columns])
    settings_of_row = settings_codes(columns, len(table))
    outcomes = [
        outcome_column(table, facts, wish, settings=settings_of_row)
        for facts, wish in layout.outcomes
    ]
    match = (
        None
        if planned is None
        else match_runs(
            planned, said, rows=rows, columns=columns, by_number=_has_run_numbers(layout, options)
        )
    )
    made = Made(
        table=table,
        factors=factors,
        values=values,
        outcomes=tuple(outcomes),
        rows=rows,
        number=match.numbers if match else {int(run): int(run) for run in rows.run},
        blocked_by=", ".join(facts.name for facts in layout.blocks),
    )
    excluded = excluded_runs(made, layout, options.exclude)
    statuses = run_statuses(made, layout, excluded)
    settings, block = _counted_settings(made, {one.run for one in statuses if one.status})
    model = model_of(options.terms, settings, block, source=table.source)
    trial = Trial(
        title=options.title,
        question="",
        factors=factors,
        outcomes=tuple(column.outcome for column in outcomes),
        held=tuple(held_setting(facts) for facts in layout.held),
        budget=Budget(parts_per_run=int(rows.part.max())),
        model=model.text,
        seed=SEED,
    )
    lines = [
        *layout.lines,
        *(line for column in columns for line in column.lines),
        *(line for column in outcomes for line in column.lines),
        *rows.lines,
        *(match.lines if match else ()),
        *(one.line for one in excluded),
        *together_lines(table, columns, slow=rows.slow),
        model.line,
    ]
    return Understood(
        trial=trial,
        plan=None if match is None else _plan(trial, match, made, planned=planned),
        entry=table_of(made, statuses),
        lines=tuple(lines),
    )


def _factor(column: FactorColumn, rows: Rows) -> Factor:
    """Return the factor, marked as slow where it stays the same within every setup."""
    return replace(column.factor, slow=column.factor.slow or column.factor.name in rows.slow)


def _has_run_numbers(layout: Layout, options: AdoptOptions) -> bool:
    """Whether the user or the heading itself says that the table holds run numbers."""
    return layout.run is not None and (bool(options.run) or layout.run.name.casefold() == "run")


def _counted_settings(made: Made, left_out: set[int]) -> tuple[Settings, NDArray[np.int64]]:
    """Return settings and block (n,) of the runs that count, one row a run."""
    first = [i for i in made.first_rows() if made.number[int(made.rows.run[i])] not in left_out]
    known = np.asarray(np.isfinite(made.values).all(axis=1))
    complete = [i for i in first if known[i]]
    if not complete:
        raise OptionError(
            "No run is left.",
            why="Every run is excluded, or lacks a setting.",
            next_step="Keep at least one run.",
            place=made.table.source,
        )
    block = codes_of([made.rows.block[i] for i in complete])
    return Settings(factors=made.factors, values=made.values[complete]), block


def _plan(trial: Trial, match: Match, made: Made, *, planned: PlannedTable | None) -> Plan:
    n = len(match.planned)
    block, setup = np.ones(n, dtype=np.int64), np.arange(1, n + 1)
    labels = codes_of(made.rows.block)
    for i in made.first_rows():
        number = made.number[int(made.rows.run[i])]
        if number <= n:
            block[number - 1] = labels[i] + 1
            if made.rows.setup is not None:
                setup[number - 1] = made.rows.setup[i]
    factors = trial.planned_factors
    return Plan(
        settings=Settings(factors=factors, values=match.planned),
        block=block,
        setup=setup,
        point=("adopted",) * n,
        standard=np.arange(1, n + 1),
        parts_per_run=trial.budget.parts_per_run,
        terms=_plan_terms(trial),
        recipe=Recipe(
            kind="adopted",
            options=(("source", planned.table.source if planned else ""),),
            seed=SEED,
            version=__version__,
            notes=("The runs were planned elsewhere; the workbench has not chosen them.",),
        ),
    )


def _plan_terms(trial: Trial) -> Terms:
    """Return the terms of the model that plan alone can answer: those of factors that were set."""
    names = {factor.name for factor in trial.planned_factors}
    terms = parse_terms(trial.model, trial.factors)
    return Terms(
        terms=tuple(one for one in terms.terms if set(one.factors) <= names), asked=terms.asked
    )
