"""plan.csv and plan.toml: the runs in order, and the recipe that made them.

plan.csv is for people and spreadsheets; plan.toml holds what a table cannot, with a digest by
which a change of the table is noticed.
"""

from __future__ import annotations

from contextlib import suppress
from typing import TYPE_CHECKING

import numpy as np
import tomlkit

from workbench.define.algebra import parse_terms, terms_text
from workbench.define.terms import Terms
from workbench.errors import FileError
from workbench.files.atomic import put_in_place, write_text_atomically
from workbench.files.continued import digests_within
from workbench.files.digests import text_digest
from workbench.files.migration import in_schema
from workbench.files.plan_table import changed_cells, read_runs, table_text
from workbench.files.toml_fields import Table
from workbench.files.toml_text import parse_toml, read_text
from workbench.files.versions import (
    PLAN_FILE,
    PLAN_TABLE,
    changes_since_first,
    plan_pair,
)
from workbench.plan.plans import Plan, Recipe

if TYPE_CHECKING:
    from pathlib import Path

    from workbench.define.trial import Trial
    from workbench.files.plan_table import PlannedRuns
    from workbench.files.versions import PlanPair

__all__ = ["PLAN_FILE", "PLAN_TABLE", "plan_digest", "plan_digests", "read_plan", "write_plan"]

COMING = ".plan.csv.new"
SCHEMA = 1
KEYS = ("schema", "digest", "parts_per_run", "asked", "terms", "standard", "recipe")
RECIPE_KEYS = ("kind", "seed", "version", "resolution", "generators", "notes", "options")


def write_plan(folder: Path, plan: Plan) -> None:
    """Write plan.csv and plan.toml into the folder, both or neither.

    The recipe names the digest of its table, so the moment it takes its place decides: a program
    stopped after that has left the table beside it, and reading lets it take its place.

    Raises
    ------
    FileError
        If the folder cannot be written to, or another program holds one of the files open.
    """
    table = table_text(plan)
    try:
        write_text_atomically(folder / COMING, table)
        write_text_atomically(folder / PLAN_FILE, _recipe_text(plan, text_digest(table)))
    except FileError as met:
        if not _is_awaited(folder):
            with suppress(OSError):
                (folder / COMING).unlink(missing_ok=True)
        met.wrong = met.wrong.replace(COMING, PLAN_TABLE)
        raise
    _finish_writing(folder)


def read_plan(folder: Path, trial: Trial) -> Plan | None:
    """Return the plan of a trial as it was written; None if the folder holds none.

    Where there are results it is the plan that they were made under, whatever plan.csv holds by
    now (unless that goes on from theirs); None if they were made without one.

    Raises
    ------
    FileError
        If one of the two files is missing, a cell or key cannot be read, plan.csv was changed
        after the plan was made, or the trial has other factors than the plan.
    RecordError
        If results were entered under two plans.
    """
    _finish_writing(folder)
    pair = plan_pair(folder)
    if pair is None:
        return None
    here = [path.exists() for path in (pair.table, pair.recipe)]
    if not any(here):
        return None
    if not all(here):
        raise _one_missing(*((PLAN_FILE, PLAN_TABLE) if here[0] else (PLAN_TABLE, PLAN_FILE)))
    return _read_pair(folder, pair, trial)


def _read_pair(folder: Path, pair: PlanPair, trial: Trial) -> Plan:
    name = pair.recipe.name
    text = in_schema(read_text(pair.recipe), file=PLAN_FILE, schema=SCHEMA)
    source = parse_toml(text, name=name)
    top = Table(source=source, values=source.values)
    _check_keys(top)
    table = read_text(pair.table)
    try:
        runs = read_runs(table, trial.planned_factors, name=pair.table.name)
    except FileError as met:
        raise _with_changes(met, changes_since_first(folder, trial)) from None
    if text_digest(table) != top.text("digest"):
        raise _edited(trial, runs, _recipe(top))
    return _plan(top, trial, runs)


def _is_awaited(folder: Path) -> bool:
    """Return whether a table waits to take its place, whose recipe is in place already."""
    coming = folder / COMING
    if not coming.is_file():
        return False
    try:
        recipe = parse_toml(read_text(folder / PLAN_FILE), name=PLAN_FILE)
        return text_digest(read_text(coming)) == recipe.values.get("digest")
    except FileError:  # no recipe, or none that can be read: reading the plan says so
        return False


def _finish_writing(folder: Path) -> None:
    if not _is_awaited(folder):
        return
    try:
        put_in_place(folder / COMING, folder / PLAN_TABLE)
    except OSError as met:
        raise FileError(
            f"{PLAN_TABLE} cannot take its place: {met.strerror or met}.",
            why="Its recipe is in place, so the plan is whole only with it.",
            next_step=f"See that you may write there; or rename {COMING} to {PLAN_TABLE}.",
            place=str(folder),
        ) from None


def _with_changes(met: FileError, changes: str) -> FileError:
    if not changes:
        return met
    return FileError(
        f"{met.wrong} Since the first result, trial.toml was changed: {changes}.",
        why="The results were made under the trial as it was, so they cannot be read as it is.",
        next_step="Put back in trial.toml what was changed, as versions/trial-….toml has "
        "it; ask the new question in a trial of its own.",
        place=met.place,
    )


def plan_digest(plan: Plan) -> str:
    """Return the digest of a plan's runs: the same for the same runs in the same order."""
    return text_digest(table_text(plan))


def plan_digests(plan: Plan) -> tuple[str, ...]:
    """Return the digests of the plans that a plan goes on from, its own last."""
    return digests_within(table_text(plan))


def _plan(top: Table, trial: Trial, runs: PlannedRuns) -> Plan:
    factors = trial.planned_factors
    with top.placed("terms"):
        listed = [parse_terms(text, factors, heredity=False) for text in top.texts("terms")]
    standard = [int(one) for one in top.numbers("standard")]
    if sorted(standard) != list(range(1, len(runs.settings) + 1)):
        raise top.error(
            "standard",
            f"The list is no order of {len(runs.settings)} runs.",
            why="It says where each run stood before the shuffle.",
            next_step="Make the plan again, or put the file back as it was written.",
        )
    return Plan(
        settings=runs.settings,
        block=runs.block,
        setup=runs.setup,
        point=runs.point,
        standard=np.array(standard, dtype=np.int64),
        parts_per_run=top.whole("parts_per_run") or 1,
        terms=Terms(
            terms=tuple(one for terms in listed for one in terms.terms), asked=top.text("asked")
        ),
        recipe=_recipe(top),
        budget_parts=trial.budget.parts,
    )


def _recipe(top: Table) -> Recipe:
    said = top.table("recipe")
    if said is None:
        raise top.error(
            "recipe",
            "There is no section [recipe].",
            why="It says how the runs were made.",
            next_step="Make the plan again, or put the file back as it was written.",
        )
    said.only(RECIPE_KEYS)
    return Recipe(
        kind=said.text("kind"),
        options=_options(said.table("options")),
        seed=said.whole("seed") or 0,
        version=said.text("version"),
        resolution=said.whole("resolution"),
        generators=said.texts("generators"),
        notes=said.texts("notes"),
    )


def _options(table: Table | None) -> tuple[tuple[str, str], ...]:
    if table is None:
        return ()
    return tuple((key, table.text(key)) for key in table.values)


def _recipe_text(plan: Plan, digest: str) -> str:
    recipe = plan.recipe
    document = tomlkit.document()
    document.add(tomlkit.comment("Written by the workbench beside plan.csv; not for editing."))
    document["schema"] = SCHEMA
    document["digest"] = digest
    document["parts_per_run"] = plan.parts_per_run
    document["asked"] = plan.terms.asked
    document["terms"] = [terms_text((one,)) for one in plan.terms.terms]
    document["standard"] = plan.standard.tolist()
    section = tomlkit.table()
    section["kind"] = recipe.kind
    section["seed"] = recipe.seed
    section["version"] = recipe.version
    if recipe.resolution is not None:
        section["resolution"] = recipe.resolution
    section["generators"] = list(recipe.generators)
    section["notes"] = list(recipe.notes)
    section["options"] = dict(recipe.options)
    document["recipe"] = section
    return tomlkit.dumps(document)


def _check_keys(top: Table) -> None:
    top.only(KEYS)
    schema = top.whole("schema")
    if schema != SCHEMA:
        raise top.error(
            "schema",
            f"The file has schema {schema}, this workbench knows schema {SCHEMA}.",
            why="Keys of another schema may mean something else.",
            next_step="Read it with the version of the workbench that wrote it.",
        )
    for key in KEYS:
        top.need(key, why="The plan cannot be read without it.", example="… as it was written")


def _one_missing(missing: str, there: str) -> FileError:
    return FileError(
        f"{there} is here, {missing} is not.",
        why="A plan is both: the runs, and the recipe that made them.",
        next_step=f"Put {missing} back, or make the plan again.",
        place=missing,
    )


def _edited(trial: Trial, runs: PlannedRuns, recipe: Recipe) -> FileError:
    cells = changed_cells(trial, runs, recipe)
    return FileError(
        f"{PLAN_TABLE} was changed after the plan was made{cells}.",
        why="The plan says what was asked for; results are held against it.",
        next_step="Put the file back and enter what was really set as as-run settings; for "
        "other runs, make a new plan.",
        place=PLAN_TABLE,
    )
