"""Make the demo trials again from their seeds: the plan, and the sheet as the line typed it.

Run as `python data_demo/make.py`. A test holds the stored files against what this makes.
"""

from __future__ import annotations

import csv
import io
import shutil
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

import workbench as wb
from workbench.decide.made_up_runs import Shared, simulate
from workbench.define.factors import Role
from workbench.files.csv_text import csv_text
from workbench.files.headings import with_unit
from workbench.files.sheet_csv import sheet_text

if TYPE_CHECKING:
    from workbench.decide.made_up import MadeUpProcess
    from workbench.decide.made_up_runs import MadeUpReadings
    from workbench.define.outcomes import Outcome
    from workbench.define.trial import Trial
    from workbench.plan.plans import Plan

HERE = Path(__file__).parent
TYPED = "results_as_typed.csv"
SOURCES = ("trial.toml", "process.toml")
# Each is a composite plan: the axial runs in the middle of the faces, within low and high.
CENTRE_POINTS = {"lid_seal": 6, "lid_seal_loads": 6, "plate_bond": 3, "sensor_wire": 3}
BLOCKS = {"lid_seal_loads": 3}


def make(name: str, target: Path) -> None:
    """Write plan.csv, plan.toml and the filled-in sheet of a demo into a folder."""
    for one in SOURCES:
        if target != HERE / name:
            shutil.copy(HERE / name / one, target / one)
    trial = wb.files.read_trial(target)
    plan = wb.plan.composite(
        trial,
        axial="face",
        centre_points=CENTRE_POINTS[name],
        blocks=BLOCKS.get(name, 1),
        seed=trial.seed,
    )
    wb.files.write_plan(target, plan)
    wb.files.write_text_atomically(target / TYPED, typed_sheet(target, trial, plan))


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A plan, what was really set, what was read, and how process.toml says it is typed."""

    trial: Trial
    plan: Plan
    process: MadeUpProcess
    seen: MadeUpReadings
    written: dict[str, Any]


def typed_sheet(folder: Path, trial: Trial, plan: Plan) -> str:
    """Return the run sheet as the line filled it in, from the made-up process."""
    written = tomllib.loads((folder / "process.toml").read_text(encoding="utf-8"))
    process = wb.files.read_process(folder, trial)
    set_to = np.array(plan.settings.values)
    slip = written.get("slip")
    if slip:
        set_to[slip["run"] - 1, plan.settings.names.index(slip["factor"])] += slip["by"]
    really = wb.define.Settings(factors=plan.settings.factors, values=set_to)
    seen = simulate(
        process,
        really,
        parts_per_run=plan.parts_per_run,
        seed=int(written["seed"]),
        shared=Shared(setup=plan.setup, lot=plan.block),
    )
    made = Made(trial=trial, plan=plan, process=process, seen=seen, written=written)
    blank = sheet_text(trial, plan).lstrip("\ufeff")
    rows = list(csv.DictReader(io.StringIO(blank)))
    for i, one in enumerate(rows):
        fill_in(one, made, i)
    if slip:
        slipped = set_to[slip["run"] - 1, plan.settings.names.index(slip["factor"])]
        note_slip(rows[slip["run"] - 1], made, float(slipped))
    return csv_text(list(rows[0]), [list(one.values()) for one in rows])


def fill_in(row: dict[str, str], made: Made, i: int) -> None:
    """Fill in the row of run i (from 0)."""
    if "lots" in made.written:
        row["block"] = made.written["lots"][int(made.plan.block[i]) - 1]
    for factor in made.trial.factors:
        if factor.role is Role.OBSERVED and not isinstance(factor, wb.define.Categorical):
            read = made.seen.actual.column(factor.name)[i]
            row[with_unit(f"{factor.name} as run", factor.unit)] = f"{read:.0f}"
    for j, surface in enumerate(made.process.surfaces):
        for part in range(made.plan.parts_per_run):
            if not stays_empty(made, (i, part), surface.outcome):
                mark = int(made.seen.mark[i, part, j])
                text = typed(surface.outcome, float(made.seen.values[i, part, j]), mark)
                row[heading(made, surface.outcome, part)] = by_hand(made, i, text)
            if made.seen.mark[i, part, j] > 0:
                row["notes"] = made.written.get("note_where_broken", "")
    row["status"] = "done"


def heading(made: Made, outcome: Outcome, part: int) -> str:
    """Return the heading under which a part's reading is typed."""
    name = with_unit(outcome.name, str(getattr(outcome, "unit", "")))
    return name if made.plan.parts_per_run == 1 else f"{name}, part {part + 1}"


def typed(outcome: Outcome, value: float, mark: int) -> str:
    """Return a reading as it is written down: a word, or a number with its mark."""
    match outcome:
        case wb.define.PassFail():
            return outcome.passes if value == 1 else outcome.fails
        case wb.define.Graded():
            return outcome.grades[int(value)]
        case _:
            places = max(0, round(-np.log10(getattr(outcome, "resolution", None) or 0.001)))
            return f"{'<' if mark < 0 else '>' if mark > 0 else ''}{value:.{places}f}"


def by_hand(made: Made, i: int, text: str) -> str:
    """Return the text in the hand of whoever filled in the sheet that day."""
    if i + 1 < made.written.get("second_hand_from", len(made.plan) + 1):
        return text
    return f"{text[0]} {text[1:]}" if text[0] in "<>" else text.capitalize()


def stays_empty(made: Made, place: tuple[int, int], outcome: Outcome) -> bool:
    """Return whether a part (run, part) was not read, because it failed another outcome."""
    rule = made.written.get("left_empty")
    if not rule or rule["outcome"] != outcome.name:
        return False
    judged = [one.outcome.name for one in made.process.surfaces].index(rule["where"])
    return bool(made.seen.values[*place, judged] == 0)


def note_slip(row: dict[str, str], made: Made, value: float) -> None:
    """Write down the setting that was not as planned, and why."""
    factor = made.trial.factor(made.written["slip"]["factor"])
    row[with_unit(f"{factor.name} as run", factor.unit)] = f"{value:.2f}"
    row["notes"] = made.written["slip"]["note"]


if __name__ == "__main__":
    for demo in CENTRE_POINTS:
        make(demo, HERE / demo)
