"""How the labels of a column lie in the rows: what level of the structure they may name."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.steps.adopt_facts import BLOCK_WORDS, is_whole_from_one

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from workbench.steps.adopt_facts import Facts
    from workbench.steps.adopt_sorting import Sorting

PLAIN = (
    "The column may be a block (a lot, day or repeat) or a factor.",
    ("--block", "--factor", "--ignore"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Nesting:
    """What a column of labels may be, in words, and the options that decide it."""

    what: str
    options: tuple[str, ...]


def codes_of(texts: Sequence[str]) -> NDArray[np.int64]:
    """Return a number from 0 for each text (n,), by first appearance."""
    seen: dict[str, int] = {}
    return np.array([seen.setdefault(text, len(seen)) for text in texts], dtype=np.int64)


def by_first_appearance(codes: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return the codes (n,) numbered anew from 0 in the order in which they first appear."""
    _, first, whole = np.unique(codes, return_index=True, return_inverse=True)
    return np.argsort(np.argsort(first)).astype(np.int64)[whole.reshape(-1)]


def joint_codes(columns: Sequence[NDArray[np.int64]], n: int) -> NDArray[np.int64]:
    """Return one number (n,) for each combination of several columns of numbers."""
    joint = np.zeros(n, dtype=np.int64)
    for codes in columns:
        _, whole = np.unique(codes, return_inverse=True)
        # Packed again column by column, so that no product of counts can overflow.
        _, joint = np.unique(joint * (int(whole.max(initial=0)) + 1) + whole, return_inverse=True)
    return joint.astype(np.int64)


def stretches(codes: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return the number (n,) of the stretch of equal neighbours that each row lies in, from 0."""
    starts = np.concatenate([[False], codes[1:] != codes[:-1]])
    return np.cumsum(starts).astype(np.int64)


def numbered_within(facts: Facts, sorting: Sorting) -> str:
    """Return the name of the lot or setup within which a column counts 1, 2, …; "" if of none."""
    if not is_whole_from_one(facts):
        return ""
    numbers = np.asarray(facts.numbers, dtype=np.int64)
    others = [
        *sorting.blocks,
        *([sorting.one["setup"]] if "setup" in sorting.one else []),
        *(f for f in sorting.left() if f is not facts and f.words & set(BLOCK_WORDS)),
    ]
    for other in others:
        groups = codes_of(other.texts)
        size = np.bincount(groups)
        if size.min() > 1 and _counts_each(numbers, groups, size):
            return other.name
    return ""


def _counts_each(
    numbers: NDArray[np.int64], groups: NDArray[np.int64], size: NDArray[np.int64]
) -> bool:
    pairs = np.unique(np.column_stack([groups, numbers]), axis=0)
    return len(pairs) == len(numbers) and bool((numbers <= size[groups]).all())


def nesting_of(facts: Facts, sorting: Sorting) -> Nesting:
    """Return what a column of labels may be, from where they stand beside the settings."""
    half = len(facts.texts) / 2
    others = [
        f
        for f in (*sorting.left(), *(sorting.facts[h] for h in sorting.factors))
        if f is not facts and 1 < f.n_distinct <= half and not f.words & set(BLOCK_WORDS)
    ]
    labels = codes_of(facts.texts)
    settings = joint_codes([codes_of(f.texts) for f in others], len(labels))
    if others and _numbers_repeats(labels, settings):
        return Nesting(
            what="The column tells rows of the same settings apart that follow one another: parts "
            "or readings of one run, or a block or factor.",
            options=("--part", "--reading", "--block", "--factor", "--ignore"),
        )
    repeats = _repeated_under(labels, settings, others)
    if repeats:
        return Nesting(
            what=f"Its labels come again under each {repeats!r}, with several rows each: another "
            f"batch every time (a run or setup of its own), or a block or factor across "
            f"{repeats!r}.",
            options=("--run", "--setup", "--block", "--factor", "--ignore"),
        )
    constant = [f.name for f in others if _is_constant_within(codes_of(f.texts), labels)]
    if constant and len(constant) < len(others) and int(labels.max()) + 1 > 2:
        return Nesting(
            what=f"{constant[0]!r} stays the same within each of its labels while other settings "
            "change: it may number resets (setups), or be a block or factor.",
            options=("--setup", "--block", "--factor", "--ignore"),
        )
    what, options = PLAIN
    return Nesting(what=what, options=options)


def _numbers_repeats(labels: NDArray[np.int64], settings: NDArray[np.int64]) -> bool:
    """Whether neighbours of the same settings, two or more everywhere, have different labels."""
    stretch = stretches(settings)
    size = np.bincount(stretch)
    pairs = np.unique(np.column_stack([stretch, labels]), axis=0)
    return int(size.min()) > 1 and len(pairs) == len(labels)


def _repeated_under(
    labels: NDArray[np.int64], settings: NDArray[np.int64], others: Sequence[Facts]
) -> str:
    """Return the factor under each level of which the labels come again, in rows that adjoin."""
    cell = joint_codes([labels, settings], len(labels))
    n_cells, n_stretches = int(cell.max()) + 1, int(stretches(cell).max()) + 1
    if n_cells != n_stretches or 2 * n_cells > len(labels) or n_cells == int(labels.max()) + 1:
        return ""
    for other in others:
        levels = codes_of(other.texts)
        pairs = np.unique(np.column_stack([levels, labels]), axis=0)
        if len(pairs) > int(labels.max()) + 1:
            return other.name
    return ""


def _is_constant_within(values: NDArray[np.int64], labels: NDArray[np.int64]) -> bool:
    return len(np.unique(np.column_stack([labels, values]), axis=0)) == int(labels.max()) + 1
