"""Options of `handover`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from argparse import ArgumentParser


def handover_options(parser: ArgumentParser) -> None:
    """Add what `handover` heeds."""
    parser.add_argument("folder", metavar="DIR", type=Path, help="folder of the trial")
    parser.add_argument(
        "--share",
        metavar="S",
        type=float,
        help="share of new parts that must meet everything (default: that of trial.toml)",
    )
    parser.add_argument(
        "--confidence",
        metavar="C",
        type=float,
        help="how sure that must be (default: that of trial.toml)",
    )
    parser.add_argument(
        "--json", action="store_true", help="print one JSON object on standard output"
    )
