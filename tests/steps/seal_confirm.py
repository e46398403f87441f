"""The lid seal demo with a window that is given, its confirmation locked, its parts made up.

Plant, product and numbers are invented.
"""

import csv
import io
import shutil

import workbench as wb
from workbench.decide.made_up_runs import simulate
from workbench.decide.windows import Decision, Limit, Window
from workbench.steps.confirm import ConfirmWish, lock_confirmation, parts_folder
from workbench.steps.fitting import fit_all
from workbench.steps.take import take_table
from workbench.steps.trials import open_trial
from workbench.steps.windows import WindowAnswer

ENDS = {
    "bead volume": (330, 345, 360),
    "nozzle height": (0.8, 0.95, 1.1),
    "nozzle speed": (19, 22, 25),
    "cure humidity": (48, 52, 57),
}


def opened_seal(folder):
    """Return the demo in a folder, its plan and its results in place."""
    shutil.copytree(wb.files.demo_folder("lid_seal"), folder)
    take_table(folder, folder / "results_as_typed.csv", who="Mira Osei")
    return open_trial(folder)


def found_window(opened):
    """Return the answer of a search that found the window of `ENDS`."""
    window = Window(
        limits=tuple(
            Limit(
                factor=opened.trial.factor(name),
                low=low,
                set_point=centre,
                high=high,
                limited_by_low="",
                limited_by_high="",
            )
            for name, (low, centre, high) in ENDS.items()
        ),
        levels=(),
        share=0.95,
        confidence=0.95,
        chance_at_set_point=0.999,
        lowest_share=0.95,
        volume=0.02,
        model_form=0.1,
        seed=11,
        n_draws=512,
        notes=(),
    )
    fits = tuple(one.fit for one in fit_all(opened))
    decision = Decision(best=window, by_level=(((), window),), if_right=window)
    return WindowAnswer(decision=decision, fits=fits, accepted="")


def locked_seal(folder):
    """Return the demo with its confirmation locked."""
    opened = opened_seal(folder)
    return lock_confirmation(opened, found_window(opened), ConfirmWish(seed=6, who="Mira Osei"))


def filled_sheet(folder, *, seed=5, change=None):
    """Return the confirmation's run sheet filled in by the made-up process of the demo.

    `change` is given each row (a dict) to spoil it.
    """
    here = parts_folder(folder)
    trial = wb.files.read_trial(here)
    plan = wb.files.read_plan(here, trial)
    process = wb.files.read_process(folder, trial)
    seen = simulate(process, plan.settings, parts_per_run=1, seed=seed)
    blank = (here / "run_sheet.csv").read_text("utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(blank)))
    for i, row in enumerate(rows):
        for j, surface in enumerate(process.surfaces):
            unit = surface.outcome.unit
            row[f"{surface.outcome.name} ({unit})"] = f"{seen.values[i, 0, j]:.3f}"
        row["status"] = "done"
        if change is not None:
            change(row)
    stream = io.StringIO()
    writer = csv.DictWriter(stream, fieldnames=list(rows[0]))
    writer.writeheader()
    writer.writerows(rows)
    table = folder / "parts.csv"
    table.write_text(stream.getvalue(), "utf-8")
    return table
