"""The options of `next`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse


def next_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of `next`."""
    parser.add_argument("folder", metavar="DIR", type=Path, help="folder of the trial")
    parser.add_argument(
        "--share", type=float, metavar="S", help="share of parts, such as 0.99 (or in trial.toml)"
    )
    parser.add_argument(
        "--confidence", type=float, metavar="C", help="such as 0.95 (or in trial.toml)"
    )
    parser.add_argument(
        "--take",
        metavar="KIND",
        help="add the runs of this candidate to the plan as a new block, and write their sheet",
    )
    parser.add_argument(
        "--seed", type=int, metavar="N", help="of draws and run order (default: trial.toml)"
    )
    parser.add_argument(
        "--json", action="store_true", help="print one JSON object on standard output"
    )
