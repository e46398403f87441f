"""Options of the two commands that choose runs: compare candidates, make a plan."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from argparse import ArgumentParser

KINDS = (
    "full",
    "fraction",
    "composite",
    "screening",
    "definitive",
    "box-behnken",
    "orthogonal",
    "latin-square",
    "incomplete-blocks",
)


def candidate_options(parser: ArgumentParser) -> None:
    """Add what `candidates` heeds, besides the folder."""
    parser.add_argument(
        "--sd",
        action="append",
        default=[],
        metavar="[NAME=]SD",
        help="scatter between runs of an outcome, a ratio on the log scale "
        "(default: expected_sd in trial.toml)",
    )
    parser.add_argument(
        "--alpha", type=float, default=0.05, metavar="A", help="level of the test (default: 0.05)"
    )
    parser.add_argument(
        "--chance", type=float, default=0.8, metavar="C", help="of finding it (default: 0.8)"
    )
    _runs_at_most(parser)
    _seed(parser)


def plan_options(parser: ArgumentParser) -> None:
    """Add what `plan` heeds, besides the folder."""
    parser.add_argument(
        "--take", metavar="NAME", help="the plan of that name in `workbench candidates DIR`"
    )
    _runs_at_most(parser)
    parser.add_argument(
        "--kind",
        choices=KINDS,
        help="default: composite for a second-order model, fraction if --runs or --resolution "
        "is given, else full",
    )
    parser.add_argument(
        "--resolution", type=int, metavar="R", help="least resolution of the fraction"
    )
    parser.add_argument(
        "--axial",
        metavar="A",
        help='axial distance: rotatable, face, "uncorrelated squares", "orthogonal blocks", '
        "or a number of half ranges (default: rotatable; face if a factor has steps)",
    )
    parser.add_argument(
        "--centre-at",
        choices=("every", "subset"),
        default="every",
        help="centre points at every combination of category levels, or at a balanced subset",
    )
    for option, usual, words in COUNTS:
        parser.add_argument(option, type=int, default=usual, metavar="N", help=words)
    parser.add_argument(
        "--against-drift",
        action="store_true",
        help="of many random orders the one that a slow drift disturbs least",
    )
    _seed(parser)


COUNTS: tuple[tuple[str, int | None, str], ...] = (
    ("--runs", None, "of the array, before replicates and centre points"),
    ("--centre-points", None, "runs in the middle"),
    ("--replicates", 1, "times over"),
    ("--repeats", 0, "runs to make twice, those that sharpen the answer most"),
    ("--blocks", 1, "lots, shifts or days"),
    ("--block-size", None, "runs in a block, for incomplete blocks"),
    ("--extra-pairs", 0, "pairs of runs added to a definitive plan; 2 is advised"),
)


def _runs_at_most(parser: ArgumentParser) -> None:
    parser.add_argument(
        "--runs-at-most",
        type=int,
        metavar="N",
        help="candidates of at most so many runs (default: the budget in trial.toml)",
    )


def _seed(parser: ArgumentParser) -> None:
    parser.add_argument("--seed", type=int, metavar="N", help="of the run order")
