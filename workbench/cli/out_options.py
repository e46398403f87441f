"""Options of the two commands that look at a trial as it lies there: check it, export it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from argparse import ArgumentParser


def check_options(parser: ArgumentParser) -> None:
    """Add what `check` heeds."""
    _folder_and_json(parser)


def export_options(parser: ArgumentParser) -> None:
    """Add what `export` heeds."""
    _folder_and_json(parser)
    parser.add_argument(
        "--to",
        metavar="FOLDER",
        type=Path,
        help="folder to write the tables into (default: DIR/export); one that holds anything "
        "but an earlier export is refused",
    )


def _folder_and_json(parser: ArgumentParser) -> None:
    parser.add_argument("folder", metavar="DIR", type=Path, help="folder of the trial")
    parser.add_argument(
        "--json", action="store_true", help="print one JSON object on standard output"
    )
