"""The options of every command, and their help."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from workbench import __version__
from workbench.cli.attach_options import attach_options
from workbench.cli.confirm_options import confirm_options
from workbench.cli.decide_options import DECIDE
from workbench.cli.handover_options import handover_options
from workbench.cli.new_options import new_options
from workbench.cli.next_options import next_options
from workbench.cli.out_options import check_options, export_options
from workbench.cli.plan_options import candidate_options, plan_options
from workbench.cli.read_options import reading_options
from workbench.cli.report_options import report_options
from workbench.cli.setpoint_options import setpoint_options
from workbench.cli.take_options import take_options
from workbench.cli.window_options import window_wish_options

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

# Their folders are listed here too, because help must not wait for what reads them.
DEMOS = {
    "lid_seal": "a silicone bead, from the plan to the window",
    "lid_seal_loads": "the same, cured by the chamber load, with a leak gauge that ends",
    "plate_bond": "a bonded plate whose ceramic often breaks first",
    "sensor_wire": "a soldered wire that is judged by pass or fail",
}
OVERVIEW = """\
From "enough, but not too much" to settings with limits that a line can hold.

A trial is a folder of plain text. Each command takes one step on it:

  see it done
    demo DIR [NAME]   run a whole invented trial in DIR, from its plan to its report
  define
    new DIR           start a trial: a trial.toml to fill in
    adopt TABLE DIR   make a trial from a table of results that exists already
  plan
    candidates DIR    which plans fit, what each finds and costs, and which to take
    plan DIR          choose the runs and their order (plan.csv, plan.toml)
    sheet DIR         write the run sheet (run_sheet.html to print, .csv or .xlsx to fill in)
  run
    take DIR TABLE    take the filled-in sheet into the journal, with a receipt
    attach DIR FILE   keep a photo or file with the run, part or outcome that it shows
  fit
    fit DIR           what matters, and how sure are we?
    predict DIR       what comes out at chosen settings?
  decide
    window DIR        between which settings does every requirement hold?
    confirm DIR       prove the window: parts to make, predictions locked first, verdict
    handover DIR      write handover.html and .xlsx: what the line sets, checks and rests on
    setpoint DIR      where in the window to set, and what more of one goal costs in another
    next DIR          what to run next where there is no window, or it ends where the trial did
  show
    report DIR        write report.html: one file, no network
    decide DIR TEXT   keep a decision or an open question (decisions.toml), for the report
    open DIR          open the folder in JupyterLab on this machine
  keep
    check DIR         look through the folder: what is wrong, with file, line and cell
    export DIR        every reading and what each column means, as plain tables
"""

EXAMPLES = """\
examples:
  workbench demo my_trials
  workbench adopt pulls.csv wire_pull --outcome pull:unit=N,at_least=3 --terms second-order
  workbench fit wire_pull
  workbench window wire_pull --share 0.99 --confidence 0.95

exit status: 0 answered, 4 answered "cannot" with a reason, 2 a mistake of yours, 1 one of ours.
`workbench COMMAND --help` explains one command.
"""


def parse(arguments: Sequence[str] | None) -> argparse.Namespace:
    """Return the options of one call.

    Raises
    ------
    SystemExit
        With 2 where the options are not understood, 0 where help or the version was asked.
    """
    parser = build()
    return parser.parse_args(arguments)


def build() -> argparse.ArgumentParser:
    """Return the parser of the whole command line."""
    parser = argparse.ArgumentParser(
        prog="workbench",
        usage="workbench COMMAND …",
        description=OVERVIEW,
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"workbench {__version__}")
    commands = parser.add_subparsers(
        dest="command", metavar="COMMAND", required=True, help=argparse.SUPPRESS
    )
    for name, (summary, example, add) in COMMANDS.items():
        one = commands.add_parser(
            name,
            prog=f"workbench {name}",
            description=summary,
            epilog=f"example:\n  {example}",
            formatter_class=argparse.RawDescriptionHelpFormatter,
            allow_abbrev=False,
        )
        add(one)
    return parser


def _folder(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("folder", metavar="DIR", type=Path, help="folder of the trial")


def _json(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--json", action="store_true", help="print one JSON object on standard output"
    )


def _many(parser: argparse.ArgumentParser, option: str, *, metavar: str, words: str) -> None:
    parser.add_argument(option, action="append", default=[], metavar=metavar, help=words)


def _who(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--who", metavar="NAME", default="", help="who takes it in (default: your login name)"
    )


def _model(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--terms",
        metavar="MODEL",
        help='first-order, interactions, second-order, or a list such as "a, b, a * b, a^2" '
        "(default: the model in trial.toml)",
    )
    parser.add_argument(
        "--scale", help="as read, log, square root or inverse (default: each outcome's own)"
    )
    parser.add_argument(
        "--planned-settings",
        action="store_true",
        help="fit on the settings planned, not on those really set",
    )
    parser.add_argument(
        "--with-excluded", action="store_true", help="count the runs excluded by hand in"
    )


def _demo(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("folder", metavar="DIR", type=Path, help="folder to make the demo in")
    parser.add_argument(
        "name",
        metavar="NAME",
        nargs="?",
        default=next(iter(DEMOS)),
        help="; ".join(f"{name}: {what}" for name, what in DEMOS.items())
        + " (default: the first)",
    )


def _adopt(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("table", metavar="TABLE", type=Path, help="CSV, text or XLSX table")
    _folder(parser)
    reading_options(parser)
    parser.add_argument(
        "--columns", metavar="FILE", type=Path, help="TOML file that says what the columns are"
    )
    _many(parser, "--outcome", metavar=WISH, words=OUTCOME_HELP)
    _many(parser, "--factor", metavar=WISH, words=FACTOR_HELP)
    parser.add_argument("--run", metavar="NAME", help="column that numbers the runs")
    _many(parser, "--block", metavar="NAME", words="column of lots, shifts or days")
    parser.add_argument("--setup", metavar="NAME", help="column that numbers resets")
    parser.add_argument("--part", metavar="NAME", help="column that numbers parts of a run")
    parser.add_argument("--reading", metavar="NAME", help="column that numbers readings of a part")
    parser.add_argument(
        "--repeats",
        metavar="WHAT",
        help="what rows of the same settings are that follow one another: runs (each set anew), "
        "parts of one run, or readings of one part",
    )
    _many(parser, "--ignore", metavar="NAME", words="column to leave out")
    parser.add_argument(
        "--planned", metavar="FILE", type=Path, help="table of the settings that were planned"
    )
    _many(
        parser,
        "--exclude",
        metavar="RUN=REASON",
        words="run to leave out, and why (LOT/RUN where runs count within their lot)",
    )
    parser.add_argument("--terms", metavar="MODEL", help="model to write into trial.toml")
    parser.add_argument("--title", metavar="TEXT", help="title of the trial")
    _who(parser)
    _json(parser)


def _candidates(parser: argparse.ArgumentParser) -> None:
    _folder(parser)
    candidate_options(parser)
    _json(parser)


def _plan(parser: argparse.ArgumentParser) -> None:
    _folder(parser)
    plan_options(parser)
    _json(parser)


def _sheet(parser: argparse.ArgumentParser) -> None:
    _folder(parser)


def _fit(parser: argparse.ArgumentParser) -> None:
    _folder(parser)
    _many(parser, "--outcome", metavar="NAME", words="this outcome only")
    _model(parser)
    _json(parser)


def _predict(parser: argparse.ArgumentParser) -> None:
    _folder(parser)
    parser.add_argument(
        "--at",
        action="extend",
        nargs="+",
        required=True,
        metavar="NAME=VALUE",
        help="a setting for every factor; a name that comes again begins a new point",
    )
    _many(parser, "--outcome", metavar="NAME", words="this outcome only")
    _model(parser)
    parser.add_argument(
        "--seed", type=int, metavar="N", help="of the chance (default: trial.toml)"
    )
    _json(parser)


def _window(parser: argparse.ArgumentParser) -> None:
    _folder(parser)
    _promise(parser)
    parser.add_argument("--seed", type=int, metavar="N", help="of the draws (default: trial.toml)")
    parser.add_argument(
        "--accept-straight",
        default="",
        metavar="REASON",
        help="why lines between two levels may be taken as straight; kept in decisions.toml",
    )
    window_wish_options(parser)
    _json(parser)


def _promise(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--share", type=float, metavar="S", help="share of parts, such as 0.99 (or in trial.toml)"
    )
    parser.add_argument(
        "--confidence", type=float, metavar="C", help="such as 0.95 (or in trial.toml)"
    )


def _report(parser: argparse.ArgumentParser) -> None:
    _folder(parser)
    _promise(parser)
    report_options(parser)


def _open(parser: argparse.ArgumentParser) -> None:
    _folder(parser)
    parser.add_argument("--no-browser", action="store_true", help="print the address only")
    parser.add_argument("--port", type=int, metavar="N", help="port on this machine")


WISH = "NAME[:KEY=VALUE,…]"
OUTCOME_HELP = (
    "an outcome; keys: kind, unit, at_least, at_most, target, out_of, censored_above, "
    "censored_below, status, cut_off, passes, grades, scale, tolerance"
)
FACTOR_HELP = "a factor; keys: kind, unit, low, high, slow, setting_sd, role"

Command = tuple[str, str, "Callable[[argparse.ArgumentParser], None]"]
COMMANDS: dict[str, Command] = {
    "demo": (
        "Copy an invented trial into DIR/NAME and do the whole job on it.",
        "workbench demo my_trials plate_bond",
        _demo,
    ),
    "new": (
        "Start a trial in DIR: a commented trial.toml to fill in, and notebooks that open it.",
        "workbench new my_trials/lid_seal --operation bead-seal",
        new_options,
    ),
    "adopt": (
        "Make a trial in DIR from a table of results, with a receipt of every assumption.",
        "workbench adopt pulls.csv wire_pull --outcome pull:unit=N,at_least=3 --block lot",
        _adopt,
    ),
    "candidates": (
        "Compare the plans that fit the budget: runs, days, cost, what each finds and gives up.",
        'workbench candidates lid_seal --sd "peel force=1.6" --runs-at-most 24',
        _candidates,
    ),
    "plan": (
        "Choose the runs of the trial in DIR and their order.",
        "workbench plan lid_seal --kind composite --centre-points 6 --seed 7",
        _plan,
    ),
    "sheet": (
        "Write the run sheet: run_sheet.html to print, run_sheet.csv or .xlsx to fill in.",
        "workbench sheet lid_seal",
        _sheet,
    ),
    "take": (
        "Take a filled-in run sheet into the journal, with a receipt.",
        "workbench take lid_seal run_sheet_filled.csv --who Mira",
        take_options,
    ),
    "attach": (
        "Attach a photo or file to a run; one outside DIR is copied into DIR/attachments.",
        'workbench attach lid_seal gap.jpg --run 7 --part 2 --note "gap at the corner"',
        attach_options,
    ),
    "fit": (
        "Say what matters and how sure that is, outcome by outcome.",
        'workbench fit lid_seal --outcome "peel force" --terms second-order',
        _fit,
    ),
    "predict": (
        "Predict every outcome at chosen settings: mean, new part, chance to pass.",
        "workbench predict wire_pull --at wire_length=8 die_height=275",
        _predict,
    ),
    "window": (
        "Find the widest settings between which every requirement holds.",
        "workbench window lid_seal --share 0.95 --confidence 0.95",
        _window,
    ),
    "confirm": (
        "Prove the window: plan and lock, then --take the parts in, then --verdict.",
        'workbench confirm lid_seal --sitting "fresh lot, late shift"',
        confirm_options,
    ),
    "handover": (
        "Write handover.html and .xlsx: work instruction, control plan, evidence.",
        "workbench handover lid_seal",
        handover_options,
    ),
    "setpoint": (
        "Say where in the window to set: most robust, best for one goal, or a compromise.",
        'workbench setpoint lid_seal --goal "peel force=more" --goal "leak rate=less"',
        setpoint_options,
    ),
    "next": (
        "Say which runs would help most; with --take, add them to the plan as a new block.",
        "workbench next lid_seal --take corners",
        next_options,
    ),
    "report": (
        "Write report.html: question, plan, what happened, what matters, window, cautions.",
        "workbench report lid_seal",
        _report,
    ),
    "decide": DECIDE,
    "check": (
        "Look through the folder and say everything that is wrong; nothing is changed.",
        "workbench check lid_seal",
        check_options,
    ),
    "export": (
        "Write readings.csv, runs.csv, dictionary.csv, plan.csv and receipts.csv into a folder.",
        "workbench export lid_seal --to lid_seal_tables",
        export_options,
    ),
    "open": (
        "Open the folder in JupyterLab on this machine only, guarded by its token.",
        "workbench open lid_seal",
        _open,
    ),
}
