"""Options of the command that takes results in."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from workbench.cli.read_options import reading_options

if TYPE_CHECKING:
    from argparse import ArgumentParser


def take_options(parser: ArgumentParser) -> None:
    """Add what `take` heeds."""
    parser.add_argument("folder", metavar="DIR", type=Path, help="folder of the trial")
    what = parser.add_mutually_exclusive_group(required=True)
    what.add_argument("table", metavar="TABLE", type=Path, nargs="?", help="the filled-in sheet")
    what.add_argument(
        "--confirm-zero",
        metavar="RUN[/PART[/READING]]:OUTCOME",
        action="append",
        help="no table: this zero, which looks like not measured, was read; say why by --reason",
    )
    reading_options(parser)
    parser.add_argument(
        "--reason",
        default="",
        metavar="TEXT",
        help="why values are corrected that were entered before, or a zero is confirmed; kept "
        "with them",
    )
    parser.add_argument(
        "--settle",
        action="store_true",
        help="this table stands where it contradicts what someone else has entered",
    )
    parser.add_argument(
        "--who", metavar="NAME", default="", help="who takes it in (default: your login name)"
    )
    parser.add_argument(
        "--json", action="store_true", help="print one JSON object on standard output"
    )
