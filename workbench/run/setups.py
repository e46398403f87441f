"""Settings that stayed from one run to the next: repeats, or replicates if they were reset.

A run repeats a setting anew only if the setting was taken away and made again; runs between which
it was left alone share one setting error (Box and Jones 1992, Journal of Applied Statistics 19,
3-26; ISO 3534-3: replication against repetition).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import comb
from typing import TYPE_CHECKING

import numpy as np
import scipy  # its parts load when a function of theirs is first called

from workbench.define.factors import Categorical, Role
from workbench.run.finding import Finding, Kind, Weight
from workbench.run.order import rows_as_made
from workbench.run.record import NOT_RESET, RESET_UNSAID, WAS_RESET
from workbench.run.words import count_words, run_words

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.run.record import Record

ROUNDING = 1e-9  # relative to the range of a factor; settings this near are the same
CHANCE = 0.05  # of calling one freely changed factor grouped in a trial
EXACT_UP_TO = 400  # runs; beyond, the normal approximation is as good
ADOPTED = "adopted"  # the kind of a plan that the workbench did not draw


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AsRunSetups:
    """Factors that were held over groups of consecutive runs, and the group of each run.

    `slow` (one a factor) says which of `factors` the trial declares slow; the others were declared
    easy and yet changed only now and then. `group` (n,) counts setups from 1 over the rows of the
    record, 0 for a run that was not made: within one, none of these factors was changed or reset.
    """

    factors: tuple[str, ...]
    slow: tuple[bool, ...]
    group: NDArray[np.int64]

    def __post_init__(self) -> None:
        self.group.setflags(write=False)

    @property
    def noticed(self) -> tuple[str, ...]:
        """Factors that were declared easy to change but were held over groups of runs."""
        return tuple(name for name, slow in zip(self.factors, self.slow, strict=True) if not slow)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Stays:
    """Of one factor, at each step (m,) from a run to the next: whether it stayed, what was said.

    `values` (m + 1,) are the settings in the order in which the runs were made.
    """

    factor: Factor
    values: NDArray[np.float64]
    stays: NDArray[np.bool_]
    said: NDArray[np.int64]
    is_drawn: bool

    @property
    def unsaid(self) -> NDArray[np.bool_]:
        return np.asarray(self.stays & (self.said == RESET_UNSAID))

    @property
    def breaks(self) -> NDArray[np.bool_]:
        return np.asarray(~self.stays | (self.said == WAS_RESET))


def as_run_setups(record: Record) -> AsRunSetups:
    """Return the factors that were held over groups of consecutive runs, and the groups.

    Slow factors are among them, and easy ones that were said not to be reset or changed so seldom
    that chance order would do it in less than 5 % of trials (runs test: Wald and Wolfowitz 1940,
    Annals of Mathematical Statistics 11, 147-162; for several levels Mood 1940, ibid., 367-392).
    An easy factor that follows an order drawn by the workbench is not suspected.
    """
    rows = rows_as_made(record)
    stays = [_stays(record, rows, j) for j in _set_factors(record)]
    n_easy = sum(not one.factor.slow for one in stays)
    held = [one for one in stays if _is_held(one, CHANCE / max(1, n_easy))]
    group = np.zeros(len(record), dtype=np.int64)
    if held and rows.size:
        breaks = np.any([one.breaks for one in held], axis=0)
        group[rows] = 1 + np.concatenate([[0], np.cumsum(breaks)])
    elif rows.size:
        group[rows] = np.arange(1, rows.size + 1)
    return AsRunSetups(
        factors=tuple(one.factor.name for one in held),
        slow=tuple(one.factor.slow for one in held),
        group=group,
    )


def setup_findings(record: Record) -> tuple[Finding, ...]:
    """Return where a reset is asked for, and easy factors that were held in groups."""
    rows = rows_as_made(record)
    found = as_run_setups(record)
    runs = record.run[rows]
    stays = {
        one.factor.name: one for one in (_stays(record, rows, j) for j in _set_factors(record))
    }
    unsaid = [
        _unsaid(stays[name], runs)
        for name in found.factors
        if stays[name].factor.slow and stays[name].unsaid.any()
    ]
    return (*unsaid, *(_grouped(stays[name], runs) for name in found.noticed))


def _set_factors(record: Record) -> tuple[int, ...]:
    return tuple(
        j
        for j, factor in enumerate(record.trial.factors)
        if factor.role in (Role.CONTROL, Role.NOISE)
    )


def _stays(record: Record, rows: NDArray[np.intp], j: int) -> _Stays:
    factor = record.trial.factors[j]
    values = record.as_run.values[rows, j]
    stays = np.abs(np.diff(values)) <= _rounding(factor)
    return _Stays(
        factor=factor,
        values=values,
        stays=stays,
        said=record.resets[rows[1:], j],
        is_drawn=_is_drawn(record, rows, stays, j=j),
    )


def _is_drawn(record: Record, rows: NDArray[np.intp], stays: NDArray[np.bool_], *, j: int) -> bool:
    """Return whether the factor stayed just where an order drawn by lot lets it stay."""
    plan = record.plan
    if plan is None or plan.recipe.kind == ADOPTED or record.planned is None:
        return False
    if (np.diff(record.run[rows]) < 0).any():
        return False
    planned = record.planned.values[rows, j]
    return bool(((np.abs(np.diff(planned)) <= _rounding(record.trial.factors[j])) >= stays).all())


def _rounding(factor: Factor) -> float:
    return 0.0 if isinstance(factor, Categorical) else ROUNDING * (factor.high - factor.low)


def _is_held(one: _Stays, chance: float) -> bool:
    if one.factor.slow or (one.stays & (one.said == NOT_RESET)).any():
        return True
    known = one.values[np.isfinite(one.values)]
    if one.is_drawn or known.size < one.values.size or not one.unsaid.any():
        return False
    sizes = np.unique(known, return_counts=True)[1]
    n_changes = int(one.breaks.sum())
    if sizes.size < 2:
        return False
    # Sorted outright, each level in one go, is told at 5 % each: few runs could show it otherwise.
    is_sorted = n_changes == sizes.size - 1
    return _chance_of_so_few(sizes, n_changes) < (CHANCE if is_sorted else chance)


def _chance_of_so_few(sizes: NDArray[np.int64], n_changes: int) -> float:
    """Return the chance that a random order of levels (sizes) changes this seldom or less."""
    n = int(sizes.sum())
    if sizes.size == 2 and n <= EXACT_UP_TO:
        a, b = (int(one) for one in sizes)
        ways = sum(_ways(a, b, changes) for changes in range(1, n_changes + 1))
        return ways / comb(n, a)
    squares = float((sizes**2).sum())
    mean = n - squares / n
    cubes = float((sizes.astype(np.float64) ** 3).sum())
    variance = (squares * (squares + n * n + n) - 2 * n * cubes - n**3) / (n * n * (n - 1.0))
    if variance <= 0:
        return 1.0
    return float(scipy.special.ndtr((n_changes + 0.5 - mean) / np.sqrt(variance)))


def _ways(a: int, b: int, changes: int) -> int:
    """Return the orders of a and b alike things that change so often, whichever begins."""
    first, second = (changes + 2) // 2, (changes + 1) // 2  # groups of the kind that begins
    return comb(a - 1, first - 1) * comb(b - 1, second - 1) + comb(a - 1, second - 1) * comb(
        b - 1, first - 1
    )


def _unsaid(one: _Stays, runs: NDArray[np.int64]) -> Finding:
    name = one.factor.name
    n_groups = 1 + int(one.breaks.sum())
    asked = tuple(runs[1:][one.unsaid].tolist())
    return Finding(
        kind=Kind.RESET_UNSAID,
        runs=asked,
        about=name,
        sentence=f"{int(one.unsaid.sum())} of {one.stays.size} times {name} stayed from one run "
        f"to the next: was it reset in between ({run_words(asked)})?",
        next_step=f"Answer in the column '{name} reset?'. Runs between which it was not reset "
        f"repeat each other for {name}: then {count_words(n_groups, 'setup')} judge it, not "
        f"{count_words(runs.size, 'run')}. Unanswered, it counts as planned.",
        weight=Weight.ASK,
    )


def _grouped(one: _Stays, runs: NDArray[np.int64]) -> Finding:
    name = one.factor.name
    n_groups = 1 + int(one.breaks.sum())
    asked = tuple(runs[1:][one.stays & (one.said != WAS_RESET)].tolist())
    return Finding(
        kind=Kind.CHANGED_IN_GROUPS,
        runs=asked,
        about=name,
        sentence=f"{name} was declared easy to change, but {count_words(runs.size, 'run')} had "
        f"only {count_words(n_groups, 'group')} of consecutive runs with one setting each.",
        next_step=f"Say in the column '{name} reset?' whether it was reset where it stayed, or "
        "declare it slow in trial.toml. Otherwise its effect looks surer than it is, and anything "
        "that drifted looks like it.",
        weight=Weight.CHECK,
    )
