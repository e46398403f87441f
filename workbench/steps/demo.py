"""The whole job on an invented trial, from its question to its report."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench import files, plan, run
from workbench.decide.made_up import lowest_true_share
from workbench.decide.windows import NoWindow
from workbench.errors import FileError, Unavailable
from workbench.show.sentences import effects_sentence
from workbench.steps.fitting import fit_all
from workbench.steps.new import put_notebooks, refuse_if_used
from workbench.steps.reporting import report_with
from workbench.steps.sheets import write_sheet
from workbench.steps.take import take_table
from workbench.steps.trials import open_trial
from workbench.steps.windows import find_window

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from workbench.decide.windows import Window
    from workbench.steps.trials import OpenTrial
    from workbench.steps.windows import WindowAnswer

USUAL = "lid_seal"
WHO = "Mira Osei"  # of the invented plant
TYPED = "results_as_typed.csv"
COPIED = ("trial.toml", "process.toml", TYPED)


def run_demo(
    folder: Path,
    name: str = USUAL,
    *,
    say: Callable[[str], None],
    progress: Callable[[int, int], None] | None = None,
) -> Path:
    """Do the whole job on a demo in `folder`/`name`, saying what was found; return the report.

    Raises
    ------
    WorkbenchError
        If there is no demo of that name, that folder holds anything already, or cannot be
        written to.
    """
    source = files.demo_folder(name)
    place = folder / name
    refuse_if_used(place)
    _copy(source, place)
    put_notebooks(place)
    _plan(source, place, say)
    opened = _results(place, say)
    _fits(opened, say)
    answer = find_window(opened, progress=progress)
    _say_window(opened, answer, say)
    path = report_with(opened, answer)
    say(f"show    wrote {path}: one page, no network")
    say(f"next    workbench open {place}")
    return path


def _copy(source: Path, place: Path) -> None:
    try:
        place.mkdir(parents=True, exist_ok=True)
        notebook = files.demo_notebook(source.name)
        shipped = [source / name for name in COPIED]
        for path in (*shipped, notebook) if notebook.is_file() else shipped:
            files.write_bytes_atomically(place / path.name, path.read_bytes())
    except OSError as problem:
        raise FileError(
            f"The demo cannot be written: {problem.strerror or problem}.",
            why="Each trial is a folder of plain files.",
            next_step="Name a place where you may write.",
            place=str(place),
        ) from None


def _plan(source: Path, place: Path, say: Callable[[str], None]) -> None:
    trial = files.read_trial(place)
    say(f"define  {trial.title} (invented): {trial.question}")
    shipped = files.read_plan(source, trial)
    if shipped is None:
        raise FileError(
            "The demo has lost its plan.",
            why="Its results belong to the runs of that plan.",
            next_step="Install the workbench again.",
        )
    made = plan.remake(trial, shipped.recipe)
    files.write_plan(place, made)
    say(
        f"plan    {made.recipe.kind}: {len(made)} runs of {len(made.settings.factors)} factors, "
        f"made again from seed {made.recipe.seed}"
    )
    sheets = write_sheet(place)
    say(
        f"        wrote {sheets.page.name} to print; {sheets.table.name} or "
        f"{sheets.workbook.name} to fill in"
    )


def _results(place: Path, say: Callable[[str], None]) -> OpenTrial:
    receipt = take_table(place, place / TYPED, who=WHO)
    unsure = sum(not line.sure for line in receipt.lines)
    opened = open_trial(place)
    what = run.happened(opened.record)
    say(
        f"run     took {receipt.n_rows} rows from {TYPED}, {unsure} assumptions to look at: "
        f"{what.n_done} of {what.n_planned} runs done"
    )
    for one in what.deviations:
        say(f"        run {one.run}: {one.factor} planned {one.planned}, really {one.as_run}")
    return opened


def _fits(opened: OpenTrial, say: Callable[[str], None]) -> None:
    for one in fit_all(opened):
        if isinstance(one.fit, Unavailable):
            say(f"fit     {one.outcome.name}: {one.fit.reason}")
        else:
            say(f"fit     {effects_sentence(one.fit)}")


def _levels_words(best: Window) -> str:
    chosen = " and ".join(f"{name} {level}" for name, level in best.levels)
    return f" with {chosen}," if chosen else ""


def _say_window(opened: OpenTrial, answer: WindowAnswer, say: Callable[[str], None]) -> None:
    best = answer.best
    if isinstance(best, NoWindow):
        say(f"decide  no window: {best.reason}")
        say(f"        {best.next_trial}")
        return
    say(
        f"decide  at least {best.share:.0%} of new parts meet everything, with "
        f"{best.confidence:.0%} confidence,{_levels_words(best)} between"
    )
    for one in best.limits:
        say(
            f"        {one.factor.name} {one.low:.4g} and {one.high:.4g} {one.factor.unit}, "
            f"set to {one.set_point:.4g} (below it stops {one.limited_by_low}; above it "
            f"{one.limited_by_high})"
        )
    process = files.read_process(opened.folder, opened.trial)
    true = lowest_true_share(process, best)
    say(
        "        the process is made up, so the truth is known: the lowest share anywhere in "
        f"this window is {true:.1%}"
    )
