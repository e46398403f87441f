"""The options of `window` that say what is held, weighed and asked beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse

SIZES = ("range", "setting error")


def window_wish_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of `window` beyond the promise itself."""
    for name, metavar, words in (
        ("--hold", "NAME=VALUE", "keep a factor at one value or level: no side of the window"),
        ("--within", '"NAME=LOW to HIGH"', "keep a side within less than was tried"),
        ("--weigh", "NAME=W", "power of a side in the size (1 is usual, 0 does not count)"),
    ):
        parser.add_argument(name, action="append", default=[], metavar=metavar, help=words)
    parser.add_argument(
        "--size-in",
        choices=SIZES,
        default=SIZES[0],
        help="unit of the sides in the volume that is given (it does not move the window)",
    )
    beside_options(parser)


def beside_options(parser: argparse.ArgumentParser) -> None:
    """Add what can be asked beside a window."""
    parser.add_argument(
        "--curve", action="store_true", help="also the window at 80, 90, 95 and 99 %% confidence"
    )
    parser.add_argument(
        "--what-if",
        action="store_true",
        help="also what tighter settings or less scatter would buy",
    )
