"""The options of `workbench new`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse

# As files.operation_names gives them, without loading that layer for the help text.
OPERATIONS = (
    "bead-seal",
    "centre-and-press",
    "cure",
    "end-of-line-test",
    "fine-soldering",
    "instant-bond",
    "primed-bond",
    "water-based-bond",
)


def new_options(parser: argparse.ArgumentParser) -> None:
    """Add the folder of a new trial, and the operation of the trade that it starts from."""
    parser.add_argument("folder", metavar="DIR", type=Path, help="folder of the trial")
    parser.add_argument(
        "--operation",
        metavar="NAME",
        default="",
        help=f"start from what is usual for one of: {', '.join(OPERATIONS)}; to be checked "
        "against data sheets (default: an invented example)",
    )
