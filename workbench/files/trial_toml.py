"""Read trial.toml: every mistake named with file, line and key, why it matters, what to write."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING

from workbench.define.algebra import parse_terms
from workbench.define.trial import RESERVED, Budget, Trial
from workbench.errors import FileError
from workbench.files.migration import in_schema
from workbench.files.toml_factors import (
    read_constraint,
    read_factor,
    read_hazards,
    read_held,
)
from workbench.files.toml_fields import Table
from workbench.files.toml_outcomes import read_outcome
from workbench.files.toml_text import parse_toml, read_text

if TYPE_CHECKING:
    from pathlib import Path

    from workbench.define.factors import Factor

TRIAL_FILE = "trial.toml"
SCHEMA = 1
SECTIONS = ("factor", "held", "outcome", "constraint")
BUDGET_KEYS = (
    "parts",
    "days",
    "parts_per_run",
    "runs_per_day",
    "resets_per_day",
    "cost_per_part",
    "cost_per_reset",
)
TOP_KEYS = (
    "schema",
    "title",
    "question",
    "share",
    "confidence",
    "model",
    "seed",
    "stopping_rule",
    "hazards",
    "cautions",
    "people",
    "date",
    "invented",
    "budget",
    *SECTIONS,
)


def read_trial(folder: Path) -> Trial:
    """Return the trial that a folder's trial.toml asks for.

    Raises
    ------
    FileError
        If the folder is no trial, or its file cannot be read as TOML.
    DefinitionError
        If a key or value cannot be; the place gives file, line and key.
    """
    return trial_from_text(read_text(_trial_file(folder)))


def trial_from_text(text: str, *, name: str = TRIAL_FILE) -> Trial:
    """Return the trial that the text of a trial.toml asks for; `name` is what messages call it.

    Raises
    ------
    FileError, DefinitionError
        As `read_trial`.
    """
    source = parse_toml(in_schema(text, file=TRIAL_FILE, schema=SCHEMA), name=name)
    top = Table(source=source, values=source.values)
    check_schema(top)
    top.only(TOP_KEYS)
    top.need("title", why="Sheets and reports are headed by it.", example='"Bead of the lid seal"')
    for key, example in (("factor", '"dwell"'), ("outcome", '"peel_force"')):
        _check_there(top, key, example)
    check_names(top)
    return _with_constraints(top, _trial(top))


def _trial(top: Table) -> Trial:
    seed = top.whole("seed")
    factors = tuple(map(read_factor, top.tables("factor")))
    held = tuple(map(read_held, top.tables("held")))
    outcomes = tuple(map(read_outcome, top.tables("outcome")))
    _check_model(top, factors)
    with top.placed():
        return Trial(
            title=top.text("title"),
            question=top.text("question"),
            factors=factors,
            outcomes=outcomes,
            held=held,
            budget=read_budget(top),
            share=top.number("share"),
            confidence=top.number("confidence"),
            model=top.text("model"),
            stopping_rule=top.text("stopping_rule"),
            hazards=read_hazards(top),
            cautions=top.texts("cautions"),
            people=top.texts("people"),
            date=_date(top),
            invented=top.text("invented"),
            seed=1 if seed is None else seed,
        )


def _with_constraints(top: Table, trial: Trial) -> Trial:
    for table in top.tables("constraint"):
        constraint = read_constraint(table)
        with table.placed():  # each by itself, so that a wrong one is named by its own line
            trial = replace(trial, constraints=(*trial.constraints, constraint))
    return trial


def _check_model(top: Table, factors: tuple[Factor, ...]) -> None:
    if top.text("model"):
        with top.placed("model"):
            parse_terms(top.text("model"), factors)


def read_budget(top: Table) -> Budget:
    """Return the budget of the [budget] section."""
    table = top.table("budget")
    table.only(BUDGET_KEYS)
    per_run = table.whole("parts_per_run")
    with table.placed():
        return Budget(
            parts=table.whole("parts"),
            days=table.number("days"),
            parts_per_run=1 if per_run is None else per_run,
            runs_per_day=table.number("runs_per_day"),
            resets_per_day=table.number("resets_per_day"),
            cost_per_part=table.number("cost_per_part"),
            cost_per_reset=table.number("cost_per_reset"),
        )


def _date(top: Table) -> str:
    value = top.values.get("date")
    if isinstance(value, dt.date):
        return value.isoformat()
    return top.text("date")


def _trial_file(folder: Path) -> Path:
    if not folder.is_dir():
        is_file = folder.is_file()
        raise FileError(
            f"{folder} is {'a file' if is_file else 'not there'}.",
            why="A trial is a folder that holds trial.toml.",
            next_step="Give the folder that it lies in."
            if is_file
            else "Check the path, or start one with `workbench new FOLDER`.",
        )
    path = folder / TRIAL_FILE
    if not path.is_file():
        raise FileError(
            f"{folder} holds no {TRIAL_FILE}, so it is not a trial.",
            why="What a trial asks is written there.",
            next_step="Give the folder of a trial, or start one with `workbench new FOLDER`.",
        )
    return path


def check_schema(top: Table) -> None:
    """Refuse a file of another schema, or one that states none."""
    top.need(
        "schema",
        why="It says by which rules the file is read, also in ten years.",
        example=f"{SCHEMA} as the first line",
    )
    schema = top.values["schema"]
    if schema == SCHEMA and isinstance(schema, int) and not isinstance(schema, bool):
        return
    is_newer = isinstance(schema, int) and schema > SCHEMA
    raise top.error(
        "schema",
        f"The file is written by schema {schema!r}; this workbench reads schema {SCHEMA}.",
        why="Keys may have changed their meaning, so reading on could plan the wrong trial.",
        next_step="Install a newer workbench." if is_newer else f"Write schema = {SCHEMA}.",
    )


def _check_there(top: Table, key: str, example: str) -> None:
    if not top.tables(key):
        raise FileError(
            f"There is no [[{key}]] section.",
            why="A trial varies at least one factor and reads at least one outcome.",
            next_step=f"Add [[{key}]] with name = {example} and its other keys.",
            place=top.place(),
        )


def check_names(top: Table) -> None:
    """Refuse a name that stands twice, or that a column of every run table has."""
    first: dict[str, Table] = {}
    for table in (one for key in SECTIONS[:3] for one in top.tables(key)):
        name = table.values.get("name")
        if not isinstance(name, str):
            continue
        if name in first:
            raise table.error(
                "name",
                f"The name {name!r} stands twice; first in {first[name].place('name')}.",
                why="Factors, held settings and outcomes share one table, each its own column.",
                next_step="Give one of them another name.",
            )
        if name in RESERVED:
            raise table.error(
                "name",
                f"The name {name!r} is used for a column of every run table.",
                why="A factor or outcome of that name could not be told from it.",
                next_step="Give it a longer name.",
            )
        first[name] = table
