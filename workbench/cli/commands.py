"""What each command does: take a step, print what it says, return the exit status."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from workbench.cli.decide_command import decide
from workbench.cli.out_commands import check, export
from workbench.cli.record_commands import attach, confirm_zero

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Callable

    from workbench.steps.json_values import JsonObject
    from workbench.steps.trials import OpenTrial

ANSWERED = 0
CANNOT = 4


def run(chosen: Namespace) -> int:
    """Run the chosen command and return its exit status."""
    return COMMANDS[chosen.command](chosen)


def demo(chosen: Namespace) -> int:
    """Do the whole job on an invented trial."""
    from workbench.steps.demo import run_demo

    run_demo(chosen.folder, chosen.name, say=_say_line, progress=_progress("drawing processes"))
    return ANSWERED


def new(chosen: Namespace) -> int:
    """Start a trial."""
    from workbench.steps.new import start_trial

    written = start_trial(chosen.folder, chosen.operation)
    print(f"wrote {written}")
    if chosen.operation:
        print("      its numbers are a start: check each against data sheets, put in your own,")
        print("      and state share and confidence")
    print(f"next: fill it in, then workbench plan {chosen.folder}")
    return ANSWERED


def adopt(chosen: Namespace) -> int:
    """Make a trial from a table."""
    from workbench.cli.adopt_wish import adopt_options
    from workbench.cli.run_words import receipt_text
    from workbench.steps.adopt import adopt as take_over

    adopted = take_over(chosen.table, chosen.folder, adopt_options(chosen))
    if chosen.json:
        from workbench.steps.answers import receipt_answer

        return _print_json(receipt_answer(adopted.receipt))
    print(receipt_text(adopted.receipt))
    print(f"\nnext: read the receipt, mend {chosen.folder}/trial.toml where it is wrong, then")
    print(f"      workbench fit {chosen.folder}")
    return ANSWERED


def candidates(chosen: Namespace) -> int:
    """Compare the plans that fit."""
    from workbench.cli.choice_words import choice_text
    from workbench.plan.candidates import NothingFitsError
    from workbench.steps.choice_answers import choice_answer, nothing_fits_answer
    from workbench.steps.choosing import ChoiceWish, compare_plans

    wish = ChoiceWish(
        sd=tuple(chosen.sd),
        alpha=chosen.alpha,
        chance=chosen.chance,
        runs_at_most=chosen.runs_at_most,
        seed=chosen.seed,
    )
    try:
        choice = compare_plans(chosen.folder, wish)
    except NothingFitsError as none:
        if chosen.json:
            _print_json(nothing_fits_answer(f"{none.wrong} {none.why} {none.next_step}"))
        else:
            print(f"{none.wrong}\n{none.why}\nnext: {none.next_step}")
        return CANNOT
    if chosen.json:
        return _print_json(choice_answer(choice))
    print(choice_text(choice))
    print(f"\nnext: workbench plan {chosen.folder} --take {choice.comparison.recommended.name}")
    return ANSWERED


def plan(chosen: Namespace) -> int:
    """Plan the runs."""
    from workbench.cli.plan_words import plan_text
    from workbench.steps.plan_answers import plan_answer
    from workbench.steps.plan_wish import PlanWish
    from workbench.steps.planning import make_plan

    wish = PlanWish(
        kind=chosen.kind or "",
        take=chosen.take or "",
        runs_at_most=chosen.runs_at_most,
        runs=chosen.runs,
        resolution=chosen.resolution,
        axial=chosen.axial or "",
        centre_points=chosen.centre_points,
        centre_at=chosen.centre_at,
        replicates=chosen.replicates,
        blocks=chosen.blocks,
        block_size=chosen.block_size,
        extra_pairs=chosen.extra_pairs,
        repeats=chosen.repeats,
        against_drift=chosen.against_drift,
        seed=chosen.seed,
    )
    made = make_plan(chosen.folder, wish)
    if chosen.json:
        return _print_json(plan_answer(made))
    print(plan_text(made))
    print(f"\nwrote {chosen.folder}/plan.csv and plan.toml")
    print(f"next: workbench sheet {chosen.folder}")
    return ANSWERED


def sheet(chosen: Namespace) -> int:
    """Write the run sheet."""
    from workbench.steps.sheets import write_sheet

    sheets = write_sheet(chosen.folder)
    for path in (sheets.page, sheets.table, sheets.workbook):
        print(f"wrote {path}")
    print(f"next: run it, fill it in, then workbench take {chosen.folder} TABLE")
    return ANSWERED


def take(chosen: Namespace) -> int:
    """Take results in, or confirm zeros that stand in the record."""
    if chosen.confirm_zero:
        return confirm_zero(chosen)
    from workbench.cli.read_wish import read_options
    from workbench.cli.run_words import receipt_text
    from workbench.steps.people import who_is_it
    from workbench.steps.take import take_table as take_in

    receipt = take_in(
        chosen.folder,
        chosen.table,
        read=read_options(chosen),
        who=who_is_it(chosen.who),
        settles=chosen.settle,
        reason=chosen.reason,
    )
    if chosen.json:
        from workbench.steps.answers import receipt_answer

        return _print_json(receipt_answer(receipt))
    print(receipt_text(receipt))
    print(f"\nnext: workbench fit {chosen.folder}")
    return ANSWERED


def fit(chosen: Namespace) -> int:
    """Fit the outcomes."""
    from workbench.cli.fit_words import fits_text
    from workbench.cli.run_words import happened_text
    from workbench.errors import Unavailable
    from workbench.run import happened
    from workbench.steps.answers import fit_answer
    from workbench.steps.fitting import fit_all
    from workbench.steps.plan_answers import happened_answer

    opened = _opened(chosen)
    fits = fit_all(
        opened,
        outcomes=chosen.outcome,
        terms=chosen.terms,
        scale=chosen.scale,
        uses_as_run=not chosen.planned_settings,
        with_excluded=chosen.with_excluded,
    )
    what = happened(opened.record)
    if chosen.json:
        _print_json(fit_answer(fits) | {"happened": happened_answer(what)})
    else:
        has_plan = opened.record.planned is not None
        print(happened_text(what, has_plan=has_plan), fits_text(fits), sep="\n\n")
    return CANNOT if all(isinstance(one.fit, Unavailable) for one in fits) else ANSWERED


def predict(chosen: Namespace) -> int:
    """Predict at chosen settings."""
    from workbench.cli.fit_words import predictions_text
    from workbench.steps.answers import predict_answer
    from workbench.steps.fitting import fit_all
    from workbench.steps.predicting import points, predict_all

    opened = _opened(chosen)
    settings = points(opened.trial.factors, chosen.at)
    fits = fit_all(
        opened,
        outcomes=chosen.outcome,
        terms=chosen.terms,
        scale=chosen.scale,
        uses_as_run=not chosen.planned_settings,
        with_excluded=chosen.with_excluded,
    )
    seed = opened.trial.seed if chosen.seed is None else chosen.seed
    predictions = predict_all(fits, settings, seed=seed)
    if chosen.json:
        _print_json(predict_answer(predictions))
    else:
        print(predictions_text(predictions))
    return ANSWERED if predictions.any_answer else CANNOT


def window(chosen: Namespace) -> int:
    """Find the window."""
    from workbench.cli.window_command import window as find

    return find(chosen, _opened(chosen), progress=_progress("drawing processes"))


def confirm(chosen: Namespace) -> int:
    """Plan and lock a confirmation, take its parts in, or say its verdict."""
    from workbench.cli.confirm_command import confirm as prove

    return prove(chosen, opened_by=_opened, progress=_progress("drawing processes"))


def handover(chosen: Namespace) -> int:
    """Hand the window over."""
    from workbench.cli.handover_command import handover as hand_over

    return hand_over(chosen, _opened(chosen), progress=_progress("drawing processes"))


def setpoint(chosen: Namespace) -> int:
    """Say where in the window to set."""
    from workbench.cli.setpoint_command import setpoint as say_where

    return say_where(chosen, _opened(chosen), progress=_progress("drawing processes"))


def next_trial(chosen: Namespace) -> int:
    """Say what to run next."""
    from workbench.cli.next_command import next_trial as say_next

    return say_next(chosen, _opened(chosen), progress=_progress("drawing processes"))


def report(chosen: Namespace) -> int:
    """Write the report."""
    from workbench.steps.reporting import write_report

    path = write_report(
        _opened(chosen),
        share=chosen.share,
        confidence=chosen.confidence,
        with_curve=chosen.curve,
        with_what_if=chosen.what_if,
        progress=_progress("drawing processes"),
    )
    print(f"wrote {path}")
    return ANSWERED


def open_folder(chosen: Namespace) -> int:
    """Open the folder in JupyterLab; this process becomes the server."""
    from workbench.steps.opening import open_in_jupyter

    open_in_jupyter(chosen.folder, port=chosen.port, shows_browser=not chosen.no_browser)
    return ANSWERED


COMMANDS: dict[str, Callable[[Namespace], int]] = {
    "demo": demo,
    "new": new,
    "adopt": adopt,
    "candidates": candidates,
    "plan": plan,
    "sheet": sheet,
    "take": take,
    "attach": attach,
    "fit": fit,
    "predict": predict,
    "window": window,
    "confirm": confirm,
    "handover": handover,
    "setpoint": setpoint,
    "next": next_trial,
    "report": report,
    "decide": decide,
    "check": check,
    "export": export,
    "open": open_folder,
}


def _opened(chosen: Namespace) -> OpenTrial:
    """Open the trial; say on standard error what was changed in it since the first result."""
    from workbench.errors import FileError
    from workbench.files import check_results_untouched
    from workbench.files.versions import version_notes
    from workbench.steps.trials import open_trial

    opened = open_trial(chosen.folder)
    for note in version_notes(chosen.folder):
        print(f"workbench: note: {note}", file=sys.stderr)
    try:
        check_results_untouched(chosen.folder)
    except FileError as changed:
        print(f"workbench: note: {changed}", file=sys.stderr)
    return opened


def _print_json(answer: JsonObject) -> int:
    from workbench.cli.json_out import print_json

    print_json(answer)
    return ANSWERED


def _say_line(line: str) -> None:
    from workbench.cli.tables import folded

    print(folded(line, hanging=" " * 8), flush=True)


def _progress(what: str) -> Callable[[int, int], None] | None:
    """Return a counter on standard error, or None where nobody watches it."""
    if not sys.stderr.isatty():
        return None

    def say(done: int, total: int) -> None:
        end = "\n" if done >= total else ""
        print(f"\r{what}: {done} of {total}", end=end, file=sys.stderr, flush=True)

    return say
