"""Options of the command that attaches a file to a run."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from argparse import ArgumentParser


def attach_options(parser: ArgumentParser) -> None:
    """Add what `attach` heeds."""
    parser.add_argument("folder", metavar="DIR", type=Path, help="folder of the trial")
    parser.add_argument("file", metavar="FILE", type=Path, help="the photo or file")
    parser.add_argument("--run", metavar="N", type=int, required=True, help="run it belongs to")
    parser.add_argument("--part", metavar="N", type=int, default=0, help="one part of the run")
    parser.add_argument("--outcome", metavar="NAME", default="", help="the outcome that it shows")
    parser.add_argument("--note", metavar="TEXT", default="", help="what can be seen on it")
    parser.add_argument(
        "--who", metavar="NAME", default="", help="who attaches it (default: your login name)"
    )
    parser.add_argument(
        "--json", action="store_true", help="print one JSON object on standard output"
    )
