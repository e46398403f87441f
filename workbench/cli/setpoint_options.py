"""The options of `setpoint`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse


def setpoint_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of `setpoint`."""
    parser.add_argument("folder", metavar="DIR", type=Path, help="folder of the trial")
    parser.add_argument(
        "--goal",
        action="append",
        default=[],
        metavar="NAME=WAY",
        help="what is better of an outcome: more, less, or a target value "
        "(default: as the requirements say)",
    )
    parser.add_argument(
        "--share", type=float, metavar="S", help="share of parts, such as 0.99 (or in trial.toml)"
    )
    parser.add_argument(
        "--confidence", type=float, metavar="C", help="such as 0.95 (or in trial.toml)"
    )
    parser.add_argument("--seed", type=int, metavar="N", help="of the draws (default: trial.toml)")
    parser.add_argument(
        "--json", action="store_true", help="print one JSON object on standard output"
    )
