"""Options of `confirm`: plan and lock, take parts in, ask for the verdict."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from workbench.cli.read_options import reading_options

if TYPE_CHECKING:
    from argparse import ArgumentParser


def confirm_options(parser: ArgumentParser) -> None:
    """Add what `confirm` heeds."""
    parser.add_argument("folder", metavar="DIR", type=Path, help="folder of the trial")
    parser.add_argument(
        "--take",
        metavar="TABLE",
        type=Path,
        help="take the filled-in run sheet of the confirmation into its journal",
    )
    parser.add_argument(
        "--verdict", action="store_true", help="say what the parts show, and what to do"
    )
    _of_the_plan(parser)
    _of_the_parts(parser)
    parser.add_argument(
        "--json", action="store_true", help="print one JSON object on standard output"
    )


def _of_the_plan(parser: ArgumentParser) -> None:
    parser.add_argument(
        "--share", type=float, metavar="S", help="share of parts, such as 0.99 (or in trial.toml)"
    )
    parser.add_argument(
        "--confidence", type=float, metavar="C", help="such as 0.95 (or in trial.toml)"
    )
    parser.add_argument(
        "--parts", type=int, metavar="N", help="parts at each place (default: as many as needed)"
    )
    parser.add_argument(
        "--corners",
        type=int,
        metavar="N",
        default=2,
        help="corners of the window to look at beside the set point (default: 2)",
    )
    parser.add_argument(
        "--by",
        choices=("measure", "counting"),
        help="how parts are judged (default: by measure where every outcome is measured)",
    )
    parser.add_argument(
        "--failures",
        type=int,
        metavar="N",
        default=0,
        help="failures allowed at a place where parts are counted (default: 0)",
    )
    parser.add_argument(
        "--sitting",
        action="append",
        default=[],
        metavar="TEXT",
        help='how a block of parts is made, such as "fresh lot, late shift"; once for each',
    )
    parser.add_argument(
        "--seed", type=int, metavar="N", help="of the order of the parts (default: trial.toml)"
    )
    parser.add_argument(
        "--again", default="", metavar="REASON", help="why another one that is locked is replaced"
    )


def _of_the_parts(parser: ArgumentParser) -> None:
    reading_options(parser)
    parser.add_argument(
        "--reason", default="", metavar="TEXT", help="with --take: why values are corrected"
    )
    parser.add_argument(
        "--settle", action="store_true", help="with --take: this table stands against others"
    )
    parser.add_argument(
        "--who", metavar="NAME", default="", help="who does it (default: your login name)"
    )
