"""Options of `decide`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from argparse import ArgumentParser


def decide_options(parser: ArgumentParser) -> None:
    """Add what `decide` heeds."""
    parser.add_argument("folder", metavar="DIR", type=Path, help="folder of the trial")
    parser.add_argument("text", metavar="TEXT", help="the decision, or the question, in words")
    kind = parser.add_mutually_exclusive_group()
    kind.add_argument(
        "--question", action="store_true", help="the text is a question that is left open"
    )
    kind.add_argument(
        "--answers", metavar="N", type=int, help="number of the open question that this settles"
    )
    parser.add_argument(
        "--by", default="", metavar="NAME", help="who (default: the login name of this machine)"
    )
    parser.add_argument("--reason", default="", metavar="TEXT", help="why, on which evidence")
    parser.add_argument(
        "--json", action="store_true", help="print one JSON object on standard output"
    )


DECIDE = (
    "Keep a decision of the meeting, or with --question what it left open.",
    'workbench decide lid_seal "Run at 0.9 mm from Monday" --by Mira --reason "window holds"',
    decide_options,
)
