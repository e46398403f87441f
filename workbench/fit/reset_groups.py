"""Factors that were reset only between groups of consecutive runs, found from the run order."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, permutations
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical, Role

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.run.record import Record

SAME_SETTING = 0.2  # coded; settings closer than this were not changed on purpose
TOO_FEW_CHANGES = -3.0  # standard deviations below the mean of a random order: 1 order in 700
SHUFFLED = 2.5  # the same for the other factors, either way: an array in its own order has more
FEWEST_STEPS = 6  # changes within groups, below which nobody can tell sorted from shuffled
IN_ORDER = 0.8  # share of ordered steps within groups above which the table is sorted
LEAST_REPEATED = 5  # rows in a group; chance repeats five shuffled rows once in a hundred orders
MOST_COLUMNS = 4  # beyond it not every order of columns is tried


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ResetGroups:
    """Factors that changed only between groups, and the group (n,) of each row of the record."""

    factors: tuple[str, ...]
    groups: NDArray[np.int64]


def noticed_groups(record: Record, made: NDArray[np.bool_]) -> ResetGroups | None:
    """Return factors whose settings stand in far fewer stretches than a random order gives.

    None where the order is the plan's own (drawn at random), or where the table stands in an
    order of its own (sorted, or the standard order of an array), so that it is not that of the
    runs: then the other factors do not look shuffled either.
    """
    if record.plan is not None:
        return None
    codes = {
        one.name: level_codes(record)[one.name][made]
        for one in record.trial.factors
        if one.role in (Role.CONTROL, Role.NOISE)
    }
    moving = {name: own for name, own in codes.items() if np.unique(own).size > 1}
    grouped = tuple(name for name, own in moving.items() if _score(own) <= TOO_FEW_CHANGES)
    others = [own for name, own in moving.items() if name not in grouped]
    if not grouped or not others or any(abs(_score(own)) >= SHUFFLED for own in others):
        return None
    groups = stretches(np.column_stack([moving[name] for name in grouped]))
    beside = np.column_stack(others)
    if _is_sorted(groups, beside) or _repeats(groups, beside):
        return None
    whole = np.full(made.size, -1, dtype=np.int64)
    whole[made] = groups
    return ResetGroups(factors=grouped, groups=whole)


def level_codes(record: Record) -> dict[str, NDArray[np.int64]]:
    """Return the level (n,) of each factor by name, −1 where unknown.

    Levels are those planned where there is a plan; numeric settings that differ by less than a
    tenth of the range are one level.
    """
    settings = record.as_run if record.planned is None else record.planned
    coded = settings.coded()
    found = {}
    for j, factor in enumerate(settings.factors):
        own = settings.values[:, j] if isinstance(factor, Categorical) else coded[:, j]
        found[factor.name] = _levels(own, 0.5 if isinstance(factor, Categorical) else SAME_SETTING)
    return found


def stretches(
    codes: NDArray[np.int64], made: NDArray[np.bool_] | None = None
) -> NDArray[np.int64]:
    """Return the number (n,) of the stretch of equal rows of `codes` (n, k) that each is in.

    Rows not `made` (n,) are −1 and part nothing.
    """
    there = np.ones(codes.shape[0], dtype=bool) if made is None else made
    changed = (np.diff(codes[there], axis=0) != 0).any(axis=1)
    whole = np.full(codes.shape[0], -1, dtype=np.int64)
    whole[there] = np.append(0, np.cumsum(changed))[: int(there.sum())]
    return whole


def _levels(values: NDArray[np.float64], gap: float) -> NDArray[np.int64]:
    known = np.isfinite(values)
    order = np.argsort(values[known], kind="stable")
    level = np.append(0, np.cumsum(np.diff(values[known][order]) > gap))[: order.size]
    own = np.empty(order.size, dtype=np.int64)
    own[order] = level
    found = np.full(values.size, -1, dtype=np.int64)
    found[known] = own
    return found


def _score(codes: NDArray[np.int64]) -> float:
    """Return by how many standard deviations stretches are more than in a random order.

    Barton and David (1957), Annals of Mathematical Statistics 28, 159-165: multiple runs.
    """
    n = codes.size
    counts = np.unique(codes, return_counts=True)[1].astype(float)
    squares, cubes = float((counts**2).sum()), float((counts**3).sum())
    mean = 1 + n - squares / n
    variance = (squares * (squares + n * (n + 1)) - 2 * n * cubes - n**3) / (n**2 * (n - 1))
    found = 1 + int((np.diff(codes) != 0).sum())
    return (found - mean) / float(np.sqrt(variance)) if variance > 0 else 0.0


def _is_sorted(groups: NDArray[np.int64], others: NDArray[np.int64]) -> bool:
    within = (np.diff(groups) == 0) & (np.diff(others, axis=0) != 0).any(axis=1)
    if int(within.sum()) < FEWEST_STEPS:
        return True
    columns = range(others.shape[1])
    few = others.shape[1] <= MOST_COLUMNS
    orders = list(permutations(columns)) if few else [tuple(columns), tuple(reversed(columns))]
    for order in orders:
        step = _sign(np.diff(others[:, order], axis=0))[within]
        if max((step > 0).mean(), (step < 0).mean()) >= IN_ORDER:
            return True
    return False


def _repeats(groups: NDArray[np.int64], others: NDArray[np.int64]) -> bool:
    """Return whether a group of rows comes back as it was or mirrored, as in a folded array."""
    mirrored = others.max(axis=0) - others
    own = [np.flatnonzero(groups == one) for one in range(int(groups.max()) + 1)]
    for a, b in combinations([rows for rows in own if rows.size >= LEAST_REPEATED], 2):
        if a.size == b.size and (
            np.array_equal(others[a], others[b]) or np.array_equal(others[a], mirrored[b])
        ):
            return True
    return False


def _sign(differences: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return the sign (n,) of the first difference of each row that is not zero."""
    first = np.argmax(differences != 0, axis=1)
    return np.asarray(np.sign(differences[np.arange(first.size), first]))
