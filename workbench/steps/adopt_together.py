"""Factors that always change together, or seldom: what the order of the rows lets nobody tell."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from workbench.run.receipt import ReceiptLine

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from workbench.files.raw_table import RawTable
    from workbench.steps.adopt_nouns import FactorColumn

FACTORS_AT_MOST = 30
SELDOM, OFTEN = 0.5, 0.8  # shares of the changes that a random order would bring


def together_lines(
    table: RawTable, columns: Sequence[FactorColumn], *, slow: frozenset[str]
) -> tuple[ReceiptLine, ...]:
    """Return a line for each pair of factors that is one, and each that changes in stretches.

    `slow` names factors whose resets are known, beside those declared slow.
    """
    codes = {
        column.factor.name: np.unique(column.values, return_inverse=True)[1].reshape(-1)
        for column in columns[:FACTORS_AT_MOST]
    }
    pairs = [
        _pair_line(table, one, other)
        for one, other in combinations(codes, 2)
        if _is_one(codes[one], codes[other])
    ]
    known = slow | {column.factor.name for column in columns if column.factor.slow}
    return (*pairs, *_seldom_lines(table, codes, known))


def _is_one(a: NDArray[np.intp], b: NDArray[np.intp]) -> bool:
    """Whether each level of one factor always comes with the same level of the other."""
    n_levels = int(a.max()) + 1
    if n_levels != int(b.max()) + 1 or n_levels == len(a):
        return False
    return len(np.unique(np.column_stack([a, b]), axis=0)) == n_levels


def _pair_line(table: RawTable, one: str, other: str) -> ReceiptLine:
    return ReceiptLine(
        where=table.source,
        met=f"{one!r} and {other!r} always change together",
        understood="what one does cannot be told from what the other does; only runs at other "
        "combinations can",
    )


def _seldom_lines(
    table: RawTable, codes: dict[str, NDArray[np.intp]], known: frozenset[str]
) -> list[ReceiptLine]:
    shares = {name: _share_of_changes(one) for name, one in codes.items()}
    if not any(share >= OFTEN for share in shares.values()):
        return []  # all in stretches: a sorted file, or rows of one setting
    return [
        ReceiptLine(
            where=table.source,
            met=f"{name!r} changes {_times(codes[name])} in {len(codes[name])} rows, other "
            "settings at almost every row",
            understood="taken as set anew for each run; if it was left as it was, its effect is "
            "surer here than it was: --setup names the column that numbers its resets",
            sure=False,
        )
        for name, share in shares.items()
        if share <= SELDOM and name not in known
    ]


def _times(codes: NDArray[np.intp]) -> str:
    changes = int((codes[1:] != codes[:-1]).sum())
    return "once" if changes == 1 else f"{changes} times"


def _share_of_changes(codes: NDArray[np.intp]) -> float:
    """Return changes from row to row over those expected in a random order of the same rows."""
    n = len(codes)
    counts = np.bincount(codes)
    expected = (n - 1) * (1 - float((counts * (counts - 1)).sum()) / (n * (n - 1))) if n > 1 else 0
    return float((codes[1:] != codes[:-1]).sum()) / expected if expected else 1.0
