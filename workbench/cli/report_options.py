"""Options of `report`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.cli.window_options import beside_options

if TYPE_CHECKING:
    from argparse import ArgumentParser


def report_options(parser: ArgumentParser) -> None:
    """Add what `report` heeds beside the promise."""
    beside_options(parser)
