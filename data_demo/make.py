"""Make the demo trials again from their seeds: the plan, and the sheet as the line typed it.

Run as `python data_demo/make.py`. A test holds the stored files against what this makes.
"""

from __future__ import annotations

import csv
import io
import shutil
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

import workbench as wb
from workbench.decide.made_up import simulate
from workbench.files.csv_text import csv_text
from workbench.files.headings import with_unit
from workbench.files.sheet_csv import sheet_text

if TYPE_CHECKING:
    from workbench.define.trial import Trial
    from workbench.plan.plans import Plan

HERE = Path(__file__).parent
TYPED = "results_as_typed.csv"
SOURCES = ("trial.toml", "process.toml")
CENTRE_POINTS = 6


def make_lid_seal(target: Path) -> None:
    """Write plan.csv, plan.toml and the filled-in sheet of the lid seal into a folder."""
    for name in SOURCES:
        if target != HERE / "lid_seal":
            shutil.copy(HERE / "lid_seal" / name, target / name)
    trial = wb.files.read_trial(target)
    plan = wb.plan.composite(trial, axial="face", centre_points=CENTRE_POINTS, seed=trial.seed)
    wb.files.write_plan(target, plan)
    wb.files.write_text_atomically(target / TYPED, typed_sheet(target, trial, plan))


def typed_sheet(folder: Path, trial: Trial, plan: Plan) -> str:
    """Return the run sheet as the line filled it in, from the made-up process."""
    written = tomllib.loads((folder / "process.toml").read_text(encoding="utf-8"))
    slip, seed = written["slip"], int(written["seed"])
    row, column = slip["run"] - 1, plan.settings.names.index(slip["factor"])
    set_to = np.array(plan.settings.values)
    set_to[row, column] += slip["by"]
    really = wb.define.Settings(factors=plan.settings.factors, values=set_to)
    process = wb.files.read_process(folder, trial)
    seen = simulate(process, really, parts_per_run=plan.parts_per_run, seed=seed)

    blank = sheet_text(trial, plan).lstrip("\ufeff")
    rows = list(csv.DictReader(io.StringIO(blank)))
    for i, one in enumerate(rows):
        for j, surface in enumerate(process.surfaces):
            outcome = surface.outcome
            places = round(-np.log10(outcome.resolution or 0.001))
            one[with_unit(outcome.name, outcome.unit)] = f"{seen.values[i, 0, j]:.{places}f}"
        one["status"] = "done"
    slipped = plan.settings.factors[column]
    unit = "" if isinstance(slipped, wb.define.Categorical) else slipped.unit
    rows[row][with_unit(f"{slipped.name} as run", unit)] = f"{set_to[row, column]:.2f}"
    rows[row]["notes"] = slip["note"]
    return csv_text(list(rows[0]), [list(one.values()) for one in rows])


if __name__ == "__main__":
    make_lid_seal(HERE / "lid_seal")
